"""Render a pull as a scan: strokes drawn at their mapped places, ground, paper, lamp, optics, noise.

The sheet is drawn in strips on a grid two to four times finer than the scan. The centre of scan pixel (0, 0) is at
(0, 0); the fine pixel ``f`` of factor ``n`` is at ``(f - (n - 1) / 2) / n`` of a scan pixel.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from tests.simulate import kernels
from tests.simulate.hand import Fault, Pull
from tests.simulate.ink import FILM_STEP_MM, Inked, ink_plate, segment_ends
from tests.simulate.mapping import (
    WARP_REACH_MM,
    WARP_STEP_MM,
    Mapping,
    crease_side,
    make_mapping,
    read_table,
    to_px,
)
from tests.simulate.noise import grain_tile
from tests.simulate.plate import Plate, Work, flatten

OPTICS_SIGMA_UM = 18.0
"""Blur of the scanner's optics, as the line-load simulations of the trade notes assume. [µm]"""
FINE_PITCH_UM = 15.0
"""The fine grid is at least this fine."""
STRIP_ROWS = 384
PAPER_GRAIN = 0.004
"""Spread of bare paper's reflectance with its grain, relative."""


@dataclass(frozen=True, slots=True, eq=False)
class Rendered:
    """A scan in linear light, and everything that was planted in it."""

    plane: np.ndarray
    """(h, w) uint16 linear luminance, 65535 = the scanner's white."""
    mapping: Mapping
    inked: Inked
    plate: Plate
    pull: Pull
    ppi: float


def _fault(pull: Pull, cause: str) -> Fault | None:
    return next((fault for fault in pull.faults if fault.cause == cause), None)


def _mapping(plate: Plate, pull: Pull, ppi: float, seed: int) -> tuple[Mapping, tuple[int, int]]:
    fault = _fault(pull, "crease")
    return make_mapping(
        (plate.width_mm, plate.height_mm),
        ppi,
        stretch=pull.stretch,
        shear=pull.shear,
        rotation_deg=pull.rotation_deg,
        mirrored=pull.mirrored,
        warp_mm=pull.warp_mm,
        margin_mm=pull.margin_mm,
        crease=fault.crease if fault else None,
        seed=seed,
    )


def _segments(inked: Inked, mapping: Mapping, fine_per_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Return ends (n, 4) in scan px and shape (n, 7) in fine px of all segments.

    Width across a segment follows the sheet's stretch across it: area stretch over stretch along.
    """
    first = segment_ends(inked.work)
    points = to_px(mapping, inked.work.points_mm)
    start, end = points[first], points[first + 1]
    first, start, end = _split_at_crease(inked.work, mapping, first, start, end)
    linear = mapping.affine[:, :2]
    px_per_mm = np.sqrt(abs(np.linalg.det(linear)))
    direction = np.diff(inked.work.points_mm, axis=0)[first]
    direction /= np.maximum(np.hypot(*direction.T), 1e-9)[:, None]
    across = px_per_mm / np.hypot(*(direction @ linear.T).T)  # relative to the mean stretch
    scale = fine_per_mm / 1000
    next_point = first + 1
    shape = np.stack(
        (
            inked.width_um[first] / 2 * scale * across,
            inked.width_um[next_point] / 2 * scale * across,
            inked.absorbance[first],
            inked.absorbance[next_point],
            inked.hollow[first],
            inked.skirt[first],
            inked.skirt_um[first] * scale,
        ),
        axis=1,
    )
    return np.concatenate((start, end), axis=1), shape


def _split_at_crease(
    work: Work, mapping: Mapping, first: np.ndarray, start: np.ndarray, end: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Cut the segments that cross a crease; each part stays on its own side."""
    line = mapping.crease_line
    if line[5] == 0:
        return first, start, end
    u = work.points_mm + read_table(mapping.warp_mm, work.points_mm)
    beyond, opening = crease_side(line, u)
    a, b = beyond[first] > 0, beyond[first + 1] > 0
    cut = (a != b) & (opening[first] > 0)
    k = first[cut]
    t = beyond[k] / (beyond[k] - beyond[k + 1])
    lip = (u[k] + t[:, None] * (u[k + 1] - u[k])) @ mapping.affine[:, :2].T + mapping.affine[:, 2]
    normal = np.array([-line[3], line[2]]) @ mapping.affine[:, :2].T
    far_lip = lip + opening[k][:, None] * normal
    near_first = np.where(a[cut][:, None], far_lip, lip)
    near_second = np.where(a[cut][:, None], lip, far_lip)
    end = end.copy()
    second_end = end[cut].copy()
    end[cut] = near_first
    return (
        np.concatenate((first, k)),
        np.concatenate((start, near_second)),
        np.concatenate((end, second_end)),
    )


def _with_ghost(
    inked: Inked, ends: np.ndarray, shape: np.ndarray, px_per_um: float
) -> tuple[np.ndarray, np.ndarray]:
    """Add the second printing of a doubled sheet."""
    if inked.ghost is None:
        return ends, shape
    shift = np.array(inked.ghost[:2]) * px_per_um
    second = shape.copy()
    second[:, [2, 3, 5]] *= inked.ghost[2]
    return np.concatenate((ends, ends + np.tile(shift, 2))), np.concatenate((shape, second))


def _marks(
    marks: list[tuple[float, float, float]], mapping: Mapping, px_per_mm: float, fine: int
) -> np.ndarray:
    """Return specks as x, y, radius on the fine grid."""
    if not marks:
        return np.empty((0, 3))
    table = np.array(marks)
    places = (to_px(mapping, table[:, :2]) + 0.5) * fine - 0.5
    return np.column_stack((places, table[:, 2] / 2000 * px_per_mm * fine))


def _clouds(shape: tuple[int, int], rng: np.random.Generator, px_per_mm: float) -> np.ndarray:
    """Return slow formation of the paper, (h, w) float32 relative reflectance, 0.2 % of spread at 3 mm."""
    small = rng.standard_normal((int(shape[0] / px_per_mm / 3) + 4, int(shape[1] / px_per_mm / 3) + 4))
    return cv2.resize((0.003 * small).astype(np.float32), shape[::-1], interpolation=cv2.INTER_CUBIC)


def render(plate: Plate, pull: Pull, ppi: float, seed: int) -> Rendered:
    """Render one pull of `plate` as scanned at `ppi`; the same arguments give the same scan, bit for bit."""
    work = flatten(plate)
    mapping, (rows, columns) = _mapping(plate, pull, ppi, seed)
    inked = ink_plate(plate, work, pull, seed)
    px_per_mm = ppi / 25.4
    fine = max(1, int(np.ceil(1000 / px_per_mm / FINE_PITCH_UM)))
    ends, shape = _segments(inked, mapping, px_per_mm * fine)
    ends, shape = _with_ghost(inked, ends, shape, px_per_mm / 1000)
    ends = (ends + 0.5) * fine - 0.5
    pitch_um = 1000 / px_per_mm / fine
    grain = grain_tile(round(pitch_um, 3), 7)
    rng = np.random.default_rng([seed, 31])
    grain_at = rng.integers(0, len(grain), 2)
    clouds = _clouds((rows, columns), rng, px_per_mm)
    dark = _marks(inked.dark_specks, mapping, px_per_mm, fine)
    light = _marks(inked.light_specks, mapping, px_per_mm, fine)
    linear = mapping.affine[:, :2]
    back = np.linalg.inv(linear)
    back = np.concatenate((back, (-back @ mapping.affine[:, 2])[:, None]), axis=1)
    fine_back = _fine_back(back, fine)
    bevel_fault = _fault(pull, "bevel ink")
    bevel = 0.40 * pull.bevel + (0.6 * bevel_fault.strength if bevel_fault else 0.0)
    edge = (plate.width_mm, plate.height_mm, 1.2, bevel, 0.05, 0.03, -0.6, -0.8, 0.0)
    tilt = rng.normal(0.0, 1.0, 4)
    lamp = np.array([*(tilt / np.abs(tilt).sum() * pull.lamp), 2 / columns, 2 / rows])
    halo = int(np.ceil(4 * OPTICS_SIGMA_UM / 1000 * px_per_mm)) + 1
    sigma = OPTICS_SIGMA_UM / pitch_um
    top = ends[:, [1, 3]].min(axis=1) - 4 * np.abs(shape[:, 6]) - shape[:, :2].max(axis=1) - 8
    bottom = ends[:, [1, 3]].max(axis=1) + 4 * np.abs(shape[:, 6]) + shape[:, :2].max(axis=1) + 8
    plane = np.empty((rows, columns), dtype=np.uint16)
    for y in range(0, rows, STRIP_ROWS):
        n = min(STRIP_ROWS, rows - y)
        y_fine = (y - halo) * fine
        lines = np.zeros(((n + 2 * halo) * fine, columns * fine), dtype=np.float32)
        inside = (bottom >= y_fine) & (top <= y_fine + len(lines))
        kernels.draw_strokes(
            lines, 0, y_fine, ends[inside], shape[inside], grain, grain_at,
            inked.ragged_um / pitch_um, inked.contact,
        )  # fmt: skip
        if mapping.crease is not None:
            kernels.clear_slit(lines, 0, y_fine, fine_back, mapping.crease_line)
        kernels.draw_marks(lines, 0, y_fine, dark, 0.93)
        bare = np.zeros_like(lines) if len(light) else None
        base = np.empty((n, columns), dtype=np.float32)
        kernels.ground(
            base, y, back, mapping.inverse_mm, -WARP_REACH_MM, WARP_STEP_MM, mapping.crease_line,
            inked.film.astype(np.float64), FILM_STEP_MM, edge, inked.contact, grain, grain_at, fine,
        )  # fmt: skip
        if bare is not None:
            kernels.draw_marks(bare, 0, y_fine, light, 1.0)
            lines *= 1 - bare
            base = 1 - (1 - base) * (1 - _scan_pixels(bare, sigma, fine, halo))
        light_left = 1 - _scan_pixels(lines, sigma, fine, halo)
        strip_rng = np.random.default_rng([seed, 41, y])
        at = (np.arange(y, y + n) * fine + grain_at[1]) % len(grain)
        ax = (np.arange(columns) * fine + grain_at[0] + 1000) % len(grain)
        paper = np.float32(pull.grain) * (clouds[y : y + n] + np.float32(PAPER_GRAIN) * grain[np.ix_(at, ax)])
        noise = strip_rng.standard_normal((n, columns), dtype=np.float32)
        kernels.to_linear16(plane[y : y + n], base, light_left, paper, noise, pull.paper, y, lamp)
    return Rendered(plane, mapping, inked, plate, pull, ppi)


def _fine_back(back: np.ndarray, fine: int) -> np.ndarray:
    """Return the map from the fine grid to displaced plate mm."""
    offset = back[:, 2] + back[:, :2] @ np.full(2, (0.5 - fine / 2) / fine)
    return np.concatenate((back[:, :2] / fine, offset[:, None]), axis=1)


def _scan_pixels(lines: np.ndarray, sigma: float, fine: int, halo: int) -> np.ndarray:
    """Return a fine plane as the scanner sees it: blurred, averaged over its pixels, without the halo rows."""
    blurred = cv2.GaussianBlur(lines, (0, 0), sigma, borderType=cv2.BORDER_REPLICATE)
    rows, columns = lines.shape[0] // fine, lines.shape[1] // fine
    small = cv2.resize(blurred, (columns, rows), interpolation=cv2.INTER_AREA)
    return small[halo : rows - halo]
