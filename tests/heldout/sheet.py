"""Draw one sheet: paper, film, plate mark, strokes and faults, as light in scan pixels."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt
from shapely import contains_xy

from tests.heldout.fields import Array, random_waves, smoothed_noise, value
from tests.heldout.geometry import SheetMap, to_mm, to_px
from tests.heldout.ink import EDGE_SHARE, EDGE_UM, Impression, Recipe, film
from tests.heldout.paper import cut_out, felt, sheet_outline
from tests.heldout.plate import Plate, Strokes
from tests.heldout.raster import band_light, fill_quads, quads_of
from tests.heldout.tone import tone_density

Floats32 = npt.NDArray[np.float32]

EDGE_NOISE_UM = 3.0
"""Raggedness of each edge of a line: fibres. [µm]"""

COARSE_MM = 0.2
"""Grid on which the film is looked up. [mm]"""


@dataclass(frozen=True, slots=True)
class Stock:
    """Paper and scanner bed of the edition."""

    level: float
    grain: float
    bed: float | None
    """Reflectance of the bed that shows around the sheet; None = the sheet fills the scan."""


def _edges(strokes: Strokes, half_mm: Array) -> tuple[Array, Array]:
    """Return both edges of every stroke in plate mm, `half_mm` (n, 2) to the left and right of its course."""
    step = np.gradient(strokes.points_mm, axis=0)
    ends = np.concatenate((strokes.start[:-1], strokes.start[1:] - 1))
    inner = np.concatenate((strokes.start[:-1] + 1, strokes.start[1:] - 2))
    step[ends] = step[inner]
    normal = np.stack((-step[:, 1], step[:, 0]), axis=1) / np.maximum(np.hypot(*step.T), 1e-9)[:, None]
    return strokes.points_mm + half_mm[:, :1] * normal, strokes.points_mm - half_mm[:, 1:] * normal


def _layer(strokes: Strokes, m: SheetMap, half_mm: Array, density: Array) -> tuple[Array, Array]:
    left, right = _edges(strokes, np.maximum(half_mm, 0.0))
    quads, at = quads_of(strokes, to_px(m, left), to_px(m, right))
    keep = (half_mm.sum(axis=1)[at] > 0.002) & (half_mm.sum(axis=1)[at + 1] > 0.002)
    return quads[keep], (0.5 * (density[at] + density[at + 1]))[keep]


def _line_layers(
    plate: Plate, pull: Impression, m: SheetMap, rng: np.random.Generator
) -> list[tuple[Array, Array]]:
    strokes = plate.strokes
    noise = (
        EDGE_NOISE_UM / 1000 * np.stack([smoothed_noise(rng, len(pull.core), 0.5) for _ in range(2)], axis=1)
    )
    half = pull.width_um[:, None] / 2000 + noise
    inner = half - np.minimum(EDGE_UM / 1000, 0.3 * 2 * half)
    layers = [_layer(strokes, m, half, EDGE_SHARE * pull.core), _layer(strokes, m, inner, pull.core)]
    if pull.double is not None:
        dx, dy, share = pull.double
        shift = np.array([dx, dy]) @ m.affine[:, :2].T
        layers += [(quads + shift, share * density) for quads, density in layers]
    return layers


def _washes(
    plate: Plate, pull: Impression, m: SheetMap, shape: tuple[int, int], px_per_mm: float
) -> Floats32 | None:
    """Return ink that lies beside or across lines at the scale of a tenth of a millimetre [D], None if none."""
    strokes = plate.strokes
    total: Floats32 | None = None

    def add(half: Array, density: Array, soft_mm: float, mapped: SheetMap) -> None:
        nonlocal total
        picture = np.zeros(shape, np.float32)
        quads, values = _layer(strokes, mapped, half, density)
        fill_quads(picture, quads, values.astype(np.float32), 0.0, 1)
        picture = cv2.GaussianBlur(picture, (0, 0), soft_mm * px_per_mm)
        total = picture if total is None else total + picture

    half = np.repeat(pull.width_um[:, None] / 2000, 2, axis=1)
    if pull.skirt_density > 0:
        add(half + pull.skirt_um / 1000, np.full(len(half), pull.skirt_density), pull.skirt_um / 2500, m)
    if plate.strokes.burr.any() and pull.burr > 0.02:
        skirt = half + np.array([0.16 * pull.burr, 0.0])
        add(np.where(strokes.burr[:, None], skirt, 0.0), 0.55 * pull.burr * pull.core, 0.05, m)
    if pull.set_off_density > 0:
        turned = np.diag([-1.0, 1.0])
        affine = np.column_stack(
            (m.affine[:, :2] @ turned, m.affine[:, 2] + m.affine[:, :2] @ [plate.width_mm + 2.5, -1.5])
        )
        mirrored = SheetMap(affine, m.centres, m.reach, 0 * m.push, 0 * m.level)
        add(1.5 * half, np.full(len(half), pull.set_off_density), 0.08, mirrored)
    return total


def _disc(picture: Floats32, x: float, y: float, radius: float, density: float) -> None:
    reach = int(radius + 3)
    i0, j0 = max(0, int(y) - reach), max(0, int(x) - reach)
    part = picture[i0 : int(y) + reach + 1, j0 : int(x) + reach + 1]
    if part.size:
        i, j = np.mgrid[i0 : i0 + part.shape[0], j0 : j0 + part.shape[1]]
        share = np.clip(radius - np.hypot(i - y, j - x) + 0.5, 0, 1)
        np.maximum(part, (density * share).astype(np.float32), out=part)


def _rounded(x: Floats32, y: Floats32, plate: Plate) -> Floats32:
    """Return the signed distance to the plate's edge, inside positive. [mm]"""
    r = plate.corner_mm
    qx = np.abs(x - plate.width_mm / 2) - (plate.width_mm / 2 - r)
    qy = np.abs(y - plate.height_mm / 2) - (plate.height_mm / 2 - r)
    outside = np.hypot(np.maximum(qx, 0), np.maximum(qy, 0))
    return np.asarray(r - outside - np.minimum(np.maximum(qx, qy), 0), dtype=np.float32)


class _Ground:
    """Film and plate mark of a sheet, band by band."""

    def __init__(
        self,
        plate: Plate,
        recipe: Recipe,
        pull: Impression,
        m: SheetMap,
        size: tuple[int, int],
        rng: np.random.Generator,
    ) -> None:
        self.plate, self.pull = plate, pull
        self.px_per_mm = float(np.sqrt(abs(np.linalg.det(m.affine[:, :2]))))
        self.step = max(1, round(COARSE_MM * self.px_per_mm))
        self.width, self.height = size
        jj = np.arange(-self.step, self.width + 2 * self.step, self.step)
        ii = np.arange(-self.step, self.height + 2 * self.step, self.step)
        points = to_mm(m, np.stack([g.ravel() for g in np.meshgrid(jj, ii)], axis=1).astype(np.float64))
        shape = (len(ii), len(jj))
        density = film(plate, recipe, pull, points)
        if pull.clog is not None:
            name, amount = pull.clog
            outline = next(f.outline for f in plate.fields if f.name == name)
            blotch = np.clip(0.75 + 0.35 * value(random_waves(rng, 5.0), points), 0, 1.3)
            density = density + amount * blotch * contains_xy(outline, points[:, 0], points[:, 1])
        self.film = density.reshape(shape).astype(np.float32)
        self.x = points[:, 0].reshape(shape).astype(np.float32)
        self.y = points[:, 1].reshape(shape).astype(np.float32)
        self.bevel_mm = float(rng.uniform(0.3, 0.6))

    def _up(self, coarse: Floats32, i0: int, rows: int) -> Floats32:
        """Interpolate rows i0 .. i0 + rows of the scan from the coarse grid, linearly."""
        j = (np.arange(self.width, dtype=np.float32) + self.step) / self.step
        i = (np.arange(i0, i0 + rows, dtype=np.float32) + self.step) / self.step
        first = max(0, int(i[0]) - 1)
        part = coarse[first : int(i[-1]) + 3]
        maps = np.meshgrid(j, i - first)
        return np.asarray(
            cv2.remap(part, maps[0], maps[1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        )

    def band(self, i0: int, rows: int) -> tuple[Floats32, Floats32]:
        """Return density of the ground [D] and factor of the emboss shade for a band."""
        x, y = self._up(self.x, i0, rows), self._up(self.y, i0, rows)
        inside = _rounded(x, y, self.plate)
        edge = np.clip(inside * self.px_per_mm + 0.5, 0, 1)
        density = edge * self._up(self.film, i0, rows)
        density += self.pull.bevel_density * np.exp(
            -0.5 * ((inside + 0.4 * self.bevel_mm) / (0.35 * self.bevel_mm)) ** 2
        )
        # Light from the head of the bed: the slope of the mark is bright on one side and dark on the other.
        slope = np.exp(-0.5 * ((inside + 0.5 * self.bevel_mm) / (0.5 * self.bevel_mm)) ** 2)
        side = np.clip((y - self.plate.height_mm / 2) / (0.48 * self.plate.height_mm), -1, 1)
        return density, 1 + 0.03 * self.pull.emboss * slope * side


def draw_sheet(
    plate: Plate,
    recipe: Recipe,
    pull: Impression,
    m: SheetMap,
    size: tuple[int, int],
    stock: Stock,
    scan: tuple[float, float],
    rng: np.random.Generator,
) -> Floats32:
    """Return linear luminance (h, w) of a sheet as the scanner's sensor sees it, before lamp and noise.

    `scan` is (pixels per mm, blur in px).
    """
    px_per_mm, blur_px = scan
    width, height = size
    ss = 4 if px_per_mm < 30 else 3
    light = felt(rng, (height, width), px_per_mm, stock.grain)
    light *= stock.level
    ground = _Ground(plate, recipe, pull, m, size, rng)
    layers = _line_layers(plate, pull, m, rng)
    washes = _washes(plate, pull, m, (height, width), px_per_mm)
    if plate.tones:
        tones = tone_density(
            plate.tones, (plate.width_mm, plate.height_mm), m, (height, width), pull.tone_ink
        )
        washes = tones if washes is None else washes + tones
    dirt = np.zeros((height, width), np.float32)
    for x, y, radius in pull.specks if pull.specks is not None else ():
        px = to_px(m, np.array([[x, y]]))[0]
        _disc(dirt, px[0], px[1], radius * px_per_mm, 1.1)
    rows = max(64, int(24e6 / ss**2 / width))
    pad = 4
    for i0 in range(0, height, rows):
        a, b = max(0, i0 - pad), min(height, i0 + rows + pad)
        density, shade = ground.band(a, b - a)
        if pull.grain > 0:
            fine = cv2.GaussianBlur(
                rng.standard_normal(density.shape).astype(np.float32), (0, 0), 0.08 * px_per_mm
            )
            density *= np.clip(1 + pull.grain * fine / fine.std(), 0, None)
        if washes is not None:
            density += washes[a:b]
        np.maximum(density, dirt[a:b], out=density)
        seen = band_light(layers, density, a, ss, blur_px) * shade
        end = min(i0 + rows, height)
        light[i0:end] *= seen[i0 - a : end - a]
    if pull.crease is not None:
        _fold(light, pull.crease, m, stock.level, px_per_mm)
    if stock.bed is not None:
        corners = to_px(
            m,
            np.array(
                [(0, 0), (plate.width_mm, 0), (plate.width_mm, plate.height_mm), (0, plate.height_mm)], float
            ),
        )
        cut_out(light, sheet_outline(rng, corners, px_per_mm), stock.bed)
    return light


def _fold(
    light: Floats32, crease: tuple[Array, Array, float, float], m: SheetMap, level: float, px_per_mm: float
) -> None:
    """Leave the slit of a crease unprinted, with the thin shadow of its ridge."""
    point, normal, _, slit_mm = crease
    a = to_px(m, point[None] - 0.2 * normal)[0]
    b = to_px(m, point[None] - 1.2 * normal)[0]
    n = (a - b) / np.hypot(*(a - b))
    rows = np.arange(light.shape[0], dtype=np.float32)[:, None]
    columns = np.arange(light.shape[1], dtype=np.float32)[None, :]
    away = ((columns - a[0]) * n[0] + (rows - a[1]) * n[1]) / px_per_mm - 0.2
    share = np.clip((slit_mm / 2 - np.abs(away)) * px_per_mm + 0.5, 0, 1)
    light *= 1 - share
    light += level * share
    light *= 1 - 0.10 * np.exp(-0.5 * ((away - slit_mm / 2) / 0.05) ** 2)
