"""A plate of ruled patches whose every measure follows from how it was drawn, scanned at any resolution.

The plate has three rows of 5 mm patches: lines that stand alone, hatching from open to dense, cross-hatching, open
ground. Lines are bars blurred by the optics and seen by square pixels; bars of one direction add up, as they do not
touch, and directions multiply, which is exact at right angles.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy import ndimage

from proofkit.folder.edition import Capture, Edition, Pull, Region, rectangle
from proofkit.sheet import make_standard, measure_sheet
from tests.lines.drawn import DEPTH, bar, plane_of
from tests.scan.scan_files import write_tiff

PATCH_MM = 5.0
MARGIN_MM = 3.5
OPTICS_MM = 0.018
"""Blur of a flatbed's optics, as the line-load simulations of the trade notes assume. [mm]"""

EDGE_MM = 1.6


@dataclass(frozen=True)
class Patch:
    """One ruled patch: lines per mm (0: open ground) of one width, in one direction or two at right angles."""

    name: str
    per_mm: float
    width_um: float
    angle_deg: float
    crossed: bool = False


PATCHES = (
    Patch("alone 60", 1.25, 60, 11),
    Patch("alone 80", 1.25, 80, 37),
    Patch("alone 100", 1.25, 100, 62),
    Patch("alone 150", 1.25, 150, 101),
    Patch("alone 200", 1.25, 200, 24),
    Patch("alone 300", 1.0, 300, 143),
    Patch("hatch 4", 4, 90, 17),
    Patch("hatch 5", 5, 70, 73),
    Patch("hatch 6", 6, 60, 128),
    Patch("hatch 7", 7, 50, 41),
    Patch("hatch 8", 8, 45, 157),
    Patch("hatch 10", 10, 40, 29),
    Patch("cross 4", 4, 60, 15, crossed=True),
    Patch("cross 5", 5, 50, 52, crossed=True),
    Patch("open", 0, 0, 0),
)
COLUMNS = 5
SIZE_MM = (COLUMNS * PATCH_MM + 2 * EDGE_MM, 3 * PATCH_MM + 2 * EDGE_MM)


@dataclass(frozen=True)
class Pulled:
    """How one sheet was pulled and scanned."""

    ppi: float = 600
    film: float = 0.03
    """On the plate, lines and ground alike. [D]"""
    depth: float = DEPTH
    optics_mm: float = OPTICS_MM
    turn_deg: float = 0.2
    stretch: tuple[float, float] = (1.0, 1.0)
    shift_px: tuple[float, float] = (0.0, 0.0)
    noise: float = 0.006
    seed: int = 1
    """Of depths, paper and, unless `noise_seed` is given, the scanner's noise."""
    noise_seed: int | None = None
    curve_error: float = 0.0
    """Relative error of all densities, by a tone curve that is not quite the stated one. [-]"""
    grain: float = 0.0
    """Spread of the paper's reflectance with its grain (0.12 mm) and again with its clouds (3 mm), relative. [-]"""
    depth_spread: float = 0.0
    """Spread of the depth of the patches' lines about `depth`, relative. [-]"""
    blur_spread: float = 0.0
    """Spread of the blur of the patches' edges, optics and pixel together, as ink is softer here than there; relative.
    [-]"""


def middle_of(index: int) -> tuple[float, float]:
    row, column = divmod(index, COLUMNS)
    return EDGE_MM + (column + 0.5) * PATCH_MM, EDGE_MM + (row + 0.5) * PATCH_MM


def rulings(patch: Patch, index: int) -> list[np.ndarray]:
    """The strokes of a patch, (n, 5) x0, y0, x1, y1, width [mm], one array a direction; cut by a circle of 2.4 mm."""
    if not patch.per_mm:
        return []
    found = []
    for turn in (0, 90)[: 1 + patch.crossed]:
        a = np.radians(patch.angle_deg + turn)
        along, across = np.array([np.cos(a), -np.sin(a)]), np.array([np.sin(a), np.cos(a)])
        reach = 2.4 - patch.width_um / 2000
        count = int(reach * patch.per_mm)
        place = np.arange(-count, count + 1) / patch.per_mm
        half = np.sqrt(np.maximum(reach**2 - place**2, 0)) + 0.05
        centre = np.array(middle_of(index)) + place[:, None] * across
        ends = half[:, None] * along
        found.append(
            np.column_stack((centre - ends, centre + ends, np.full(len(place), patch.width_um / 1000)))
        )
    return found


def frame(pulled: Pulled) -> tuple[np.ndarray, np.ndarray, tuple[int, int]]:
    """The affine map mm -> px as linear part and offset, and the shape of the scan."""
    per_mm = pulled.ppi / 25.4
    a = np.radians(pulled.turn_deg)
    turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    linear = per_mm * turn @ np.diag(pulled.stretch)
    shape = tuple(round((side + 2 * MARGIN_MM) * per_mm) for side in SIZE_MM[::-1])
    middle = np.array(shape[::-1]) / 2 + pulled.shift_px
    return linear, middle - linear @ (np.array(SIZE_MM) / 2), shape


def _add(ink: np.ndarray, strokes: np.ndarray, linear, offset, sigma: float, depth: float) -> None:
    """Add blurred strokes to a picture of ink whose pixels lie at `offset + linear @ mm`."""
    per_mm = np.sqrt(abs(np.linalg.det(linear)))
    back = np.linalg.inv(linear).T
    for x0, y0, x1, y1, width in strokes:
        start, end = np.array([x0, y0]), np.array([x1, y1])
        length = np.linalg.norm(end - start)
        along = (end - start) / length
        px = np.array([start, end]) @ linear.T + offset
        # In pieces along the stroke: a slanting stroke would else need a picture of its whole bounding box.
        pieces = max(int(length / 0.5), 1)
        reach = (width / 2 + 5 * sigma) * per_mm + 2
        for k in range(pieces):
            one, two = px[0] + np.outer([k / pieces, (k + 1) / pieces], px[1] - px[0])
            extra = (5 * sigma * per_mm + 2) * (k in (0, pieces - 1))
            low = np.maximum(np.floor(np.minimum(one, two) - reach - extra), 0).astype(int)
            high = np.minimum(np.ceil(np.maximum(one, two) + reach + extra), ink.shape[::-1]).astype(int) + 1
            high = np.minimum(high, ink.shape[::-1])
            rows, columns = np.mgrid[low[1] : high[1], low[0] : high[0]]
            xy = (np.column_stack((columns.ravel(), rows.ravel())) - offset) @ back - start
            t, d = xy @ along, xy @ np.array([-along[1], along[0]])
            own = np.floor(t / length * pieces).clip(0, pieces - 1) == k
            value = depth * own * bar(d, width, sigma) * bar(t - length / 2, length, sigma)
            ink[low[1] : high[1], low[0] : high[0]] += value.reshape(rows.shape)


def light_of(pulled: Pulled, patches=PATCHES) -> np.ndarray:
    """Share of light over the whole scan: optics, then square pixels as means of 3 x 3 places."""
    linear, offset, shape = frame(pulled)
    side = 3
    shape_fine = (side * shape[0], side * shape[1])
    linear, offset = side * linear, side * offset + (side - 1) / 2
    light = np.ones(shape_fine)
    drawn = [rulings(patch, index) for index, patch in enumerate(patches)]
    depths, optics = depths_of(pulled, patches), optics_of(pulled, patches)
    for direction in range(2):
        ink = np.zeros(shape_fine)
        for families, depth, optics_mm in zip(drawn, depths, optics, strict=True):
            if len(families) > direction:
                _add(ink, families[direction], linear, offset, optics_mm, depth)
        light *= 1 - ink
    light = light.reshape(shape[0], side, shape[1], side).mean(axis=(1, 3))
    linear, offset, _ = frame(pulled)
    rows, columns = np.mgrid[: shape[0], : shape[1]]
    mm = (np.column_stack((columns.ravel(), rows.ravel())) - offset) @ np.linalg.inv(linear).T
    inside = ((mm > 0) & (mm < SIZE_MM)).all(axis=1).reshape(shape)
    light[inside] *= 10**-pulled.film
    light **= 1 + pulled.curve_error
    if pulled.grain:
        light *= _paper(shape, pulled.grain, pulled.ppi / 25.4, pulled.seed)
    return light


def _paper(shape: tuple[int, int], spread: float, per_mm: float, seed: int) -> np.ndarray:
    """Grain and clouds of the paper about 1."""
    rng = np.random.default_rng([seed, 3])
    paper = np.ones(shape)
    for size_mm in (0.12, 3.0):
        field = ndimage.gaussian_filter(
            rng.standard_normal(shape).astype(np.float32), size_mm * per_mm / 2.355
        )
        paper += spread * field / field.std()
    return paper


def depths_of(pulled: Pulled, patches=PATCHES) -> np.ndarray:
    """Depth of the lines of each patch."""
    rng = np.random.default_rng([pulled.seed, 2])
    return np.clip(pulled.depth * (1 + pulled.depth_spread * rng.standard_normal(len(patches))), 0.5, 0.98)


def optics_of(pulled: Pulled, patches=PATCHES) -> np.ndarray:
    """Blur of the lines of each patch before the pixel, which is the mean of 3 x 3 places (variance 2/27). [mm]"""
    pixel = 2 / 27 * (25.4 / pulled.ppi) ** 2
    rng = np.random.default_rng([pulled.seed, 4])
    spread = 1 + pulled.blur_spread * rng.standard_normal(len(patches))
    return np.sqrt((pulled.optics_mm**2 + pixel) * spread**2 - pixel)


def corners(pulled: Pulled) -> np.ndarray:
    linear, offset, _ = frame(pulled)
    w, h = SIZE_MM
    return np.array([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]) @ linear.T + offset


def write_pull(folder: Path, name: str, pulled: Pulled, patches=PATCHES) -> Pull:
    (folder / "scans").mkdir(exist_ok=True, parents=True)
    plane = plane_of(light_of(pulled, patches), noise=pulled.noise, seed=pulled.noise_seed or pulled.seed)
    write_tiff(folder / "scans" / f"{name}.tif", plane, ppi=pulled.ppi)
    return Pull(name, f"{name}.tif", corners_px=corners(pulled))


def edition_of(folder: Path, *pulls: Pull, patches=PATCHES) -> Edition:
    regions = []
    for index, patch in enumerate(patches):
        x, y = middle_of(index)
        half = 1.5
        regions.append(
            Region(
                patch.name,
                "lines" if patch.per_mm else "open",
                rectangle(x - half, y - half, x + half, y + half),
            )
        )
    return Edition(
        folder, "Ruled patches", pulls, tuple(regions), standard=pulls[0].pull, plate_width_mm=SIZE_MM[0],
        plate_height_mm=SIZE_MM[1], capture=Capture(tone_curve="linear"),
    )  # fmt: skip


def measured_patches(folder: Path, sheets: list[Pulled]) -> list[dict[str, dict[str, object]]]:
    """Write and measure sheets; return the rows by patch of each after the first, which is the standard."""
    pulls = [write_pull(folder, f"s{k}", sheet) for k, sheet in enumerate(sheets)]
    edition = edition_of(folder, *pulls)
    standard = make_standard(edition, pulls[0])
    results = [measure_sheet(edition, pull, standard) for pull in pulls[1:]]
    return [{str(row["region"]): row for row in result.rows} for result in results]
