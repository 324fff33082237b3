"""Scans of a printed sheet on the bed of a scanner whose bare paper is known everywhere."""

import functools
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.ndimage import gaussian_filter

from proofkit.scan import Scan, ScanFile

LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
PAPER = (0.80, 0.78, 0.72)


@dataclass(frozen=True)
class Scene:
    """What the sheet and the scanner are like; lengths in px (600 ppi)."""

    size: tuple[int, int] = (1400, 1800)
    sheet: tuple[int, int, int, int] = (60, 50, 1340, 1740)
    """Left, top, right, bottom of the sheet."""
    margins: tuple[int, int, int, int] = (120, 100, 140, 110)
    """Top, right, bottom, left of the plate mark inside the sheet."""
    bed: tuple[float, float, float] = (0.02, 0.02, 0.02)
    paper: tuple[float, float, float] = PAPER
    film_density: float = 0.05
    """Even plate tone all over the plate."""
    film_colour: tuple[float, float, float] = (1.0, 1.0, 1.0)
    """Density of the film in red, green and blue, against `film_density`."""
    film_grain: float = 0.0
    """Scatter of the film over 0.2 mm, as a dry sheet takes it, against `film_density`."""
    unevenness: float = 0.04
    """Smooth difference of illumination between brightest and darkest place, about."""
    shape: str = "parabola"
    """`parabola`, `lens`, `cosine` or `lamp`."""
    grain: float = 0.01
    """Noise of single pixels, relative."""
    soiled: bool = True
    """Specks, pencil, a stamp and the shadow of the sheet's edge."""
    seed: int = 0


@dataclass
class Scanned:
    """A scan and the truth about it."""

    scan: Scan
    corners_px: np.ndarray
    paper: np.ndarray
    """(h, w) true level of bare paper."""
    sheet: np.ndarray
    """(h, w) true where the sheet lies."""


@functools.cache
def scanned(scene: Scene) -> Scanned:
    """Draw a scene, once; take a copy before changing it."""
    rng = np.random.default_rng(scene.seed)
    width, height = scene.size
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    light = _light(scene, 2 * x / width - 1, 2 * y / height - 1)
    picture = np.empty((height, width, 3), np.float32)
    picture[:] = scene.bed
    x0, y0, x1, y1 = scene.sheet
    cloud = gaussian_filter(rng.standard_normal((height, width), dtype=np.float32), 8)
    texture = (
        1 + scene.grain * rng.standard_normal((height, width), dtype=np.float32) + 0.002 * cloud / cloud.std()
    )
    picture[y0:y1, x0:x1] = np.array(scene.paper) * texture[y0:y1, x0:x1, None]
    top, right, bottom, left = scene.margins
    px0, py0, px1, py1 = x0 + left, y0 + top, x1 - right, y1 - bottom
    _print(picture[py0:py1, px0:px1], scene, (x + y)[py0:py1, px0:px1], rng)
    if scene.soiled:
        _soil(picture, scene.sheet, rng)
    picture = np.clip(picture * light[..., None], 0, 1)
    sheet = np.zeros((height, width), bool)
    sheet[y0:y1, x0:x1] = True
    corners = np.array([(px0, py0), (px1 - 1, py0), (px1 - 1, py1 - 1), (px0, py1 - 1)], float)
    return Scanned(_scan(picture), corners, float(np.dot(scene.paper, LUMINANCE)) * light, sheet)


def with_plane(made: Scanned, plane) -> Scanned:
    """The same scan with other pixels."""
    return replace(made, scan=replace(made.scan, plane=plane))


def _light(scene: Scene, u, v):
    if scene.shape == "lens":  # the fourth power of the cosine of the field angle
        return (1 / (1 + 0.255 * scene.unevenness * (u * u + v * v))) ** 2
    if scene.shape == "cosine":
        return 1 - scene.unevenness * (1 - np.cos(1.2 * u) * np.cos(1.0 * v)) / 0.8
    if scene.shape == "lamp":  # a tube that is darker at its ends
        return 1 - scene.unevenness * u**4
    return 1 + scene.unevenness * (0.5 * u - 0.3 * v - 0.35 * u * u - 0.25 * v * v + 0.2 * u * v)


def _print(plate, scene, diagonal, rng) -> None:
    """Film all over, a dark bevel 4 px wide, and hatching 50 px inside the mark."""
    film = np.full(plate.shape[:2], scene.film_density, np.float32)
    if scene.film_grain > 0:
        spots = gaussian_filter(rng.standard_normal(film.shape, dtype=np.float32), 4)
        film *= np.clip(1 + scene.film_grain * spots / spots.std(), 0, None)
    plate *= 10 ** -(film[..., None] * np.array(scene.film_colour, np.float32))
    bevel = np.ones(plate.shape[:2], bool)
    bevel[4:-4, 4:-4] = False
    plate[bevel] *= 0.7
    lines = (diagonal % 12) < 3
    lines[:50] = lines[-50:] = False
    lines[:, :50] = lines[:, -50:] = False
    plate[lines] *= 0.06


def _soil(picture, sheet, rng) -> None:
    x0, y0, x1, y1 = sheet
    height, width = picture.shape[:2]
    for row, column in zip(rng.integers(0, height - 3, 630), rng.integers(0, width - 3, 630), strict=True):
        picture[row : row + 2, column : column + 2] *= 0.6
    picture[y1 - 60 : y1 - 40, x0 + 200 : x0 + 500 : 3] *= 0.75  # pencil
    picture[y0 + 20 : y0 + 60, x0 + 20 : x0 + 60] *= 0.85  # stamp
    picture[y0 : y0 + 6, x0:x1] *= np.linspace(0.8, 0.97, 6)[:, None, None]  # shadow


def _scan(picture) -> Scan:
    height, width = picture.shape[:2]
    step = -(-max(height, width) // 1500)
    padded = np.pad(picture, ((0, -height % step), (0, -width % step), (0, 0)), mode="edge")
    blocks = padded.reshape(padded.shape[0] // step, step, padded.shape[1] // step, step, 3)
    file = ScanFile(Path("scene.tif"), width, height, 16, 3, 600, 600, 1, None, "", "none")
    plane = np.rint(picture @ LUMINANCE * 65535).astype(np.uint16)
    return Scan(file, plane, blocks.mean(axis=(1, 3)).astype(np.float32), step, "linear")
