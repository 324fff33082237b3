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
CLOUD_MM = 3.0
"""Distance of the knots of the paper's formation."""
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


def _clouds(seed: int, y: int, shape: tuple[int, int], px_per_mm: float) -> np.ndarray:
    """Return slow formation of the paper in rows `y` and on, (h, w) float32 relative, 0.2 % of spread at 3 mm."""
    knots = np.random.default_rng([seed, 37]).standard_normal((256, 256)).astype(np.float32)
    step = 1 / (CLOUD_MM * px_per_mm)
    back = np.array([[step, 0.0, 2.0], [0.0, step, 2.0 + y * step]])
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(0.003 * knots, back, shape[::-1], flags=flags, borderMode=cv2.BORDER_WRAP)


def _fine_factor(ppi: float) -> int:
    """Return how many fine pixels lie side by side in a scan pixel."""
    return max(1, int(np.ceil(25400 / ppi / FINE_PITCH_UM)))


@dataclass(frozen=True, slots=True, eq=False)
class _Sheet:
    """All that the strips of one sheet have in common."""

    mapping: Mapping
    inked: Inked
    pull: Pull
    seed: int
    scan_seed: int
    """Of what one laying-down of the sheet has of its own: the lamp's tilt and the noise."""
    fine: int
    pitch_um: float
    """Of the fine grid."""
    ends: np.ndarray
    """(n, 4) segments on the fine grid. [fine px]"""
    shape: np.ndarray
    """(n, 7)."""
    rows_of: np.ndarray
    """(n, 2) first and last fine row that a segment can reach."""
    grain: np.ndarray
    grain_at: np.ndarray
    dark: np.ndarray
    light: np.ndarray
    back: np.ndarray
    """(2, 3) scan px to displaced plate mm."""
    edge: tuple[float, ...]
    lamp: np.ndarray
    halo: int
    """Rows drawn above and below a strip for the blur. [scan px]"""


def _prepare(
    plate: Plate, pull: Pull, ppi: float, seed: int, scan_seed: int
) -> tuple[_Sheet, tuple[int, int]]:
    mapping, size = _mapping(plate, pull, ppi, seed)
    inked = ink_plate(plate, flatten(plate), pull, seed)
    px_per_mm = ppi / 25.4
    fine = _fine_factor(ppi)
    pitch_um = 1000 / px_per_mm / fine
    ends, shape = _with_ghost(inked, *_segments(inked, mapping, px_per_mm * fine), px_per_mm / 1000)
    ends = (ends + 0.5) * fine - 0.5
    reach = (4 * np.abs(shape[:, 6]) + shape[:, :2].max(axis=1) + 8)[:, None] * (-1, 1)
    rows_of = np.stack((ends[:, [1, 3]].min(axis=1), ends[:, [1, 3]].max(axis=1)), axis=1) + reach
    rng = np.random.default_rng([seed, 31])
    grain = grain_tile(round(pitch_um, 3), 7)
    grain_at = rng.integers(0, len(grain), 2)
    if scan_seed != seed:
        rng = np.random.default_rng([scan_seed, 31])
    tilt = rng.normal(0.0, 1.0, 4)
    lamp = np.array([*(tilt / np.abs(tilt).sum() * pull.lamp), 2 / size[1], 2 / size[0]])
    back = np.linalg.inv(mapping.affine[:, :2])
    fault = _fault(pull, "bevel ink")
    bevel = 0.40 * pull.bevel + (0.55 * fault.strength if fault else 0.0)
    sheet = _Sheet(
        mapping, inked, pull, seed, scan_seed, fine, pitch_um, ends, shape, rows_of, grain, grain_at,
        dark=_marks(inked.dark_specks, mapping, px_per_mm, fine),
        light=_marks(inked.light_specks, mapping, px_per_mm, fine),
        back=np.concatenate((back, (-back @ mapping.affine[:, 2])[:, None]), axis=1),
        edge=(plate.width_mm, plate.height_mm, 1.2, bevel, pull.emboss, 0.03, -0.6, -0.8, pull.bevel_at_mm),
        lamp=lamp,
        halo=int(np.ceil(4 * OPTICS_SIGMA_UM / 1000 * px_per_mm)) + 1,
    )  # fmt: skip
    return sheet, size


def _lines(sheet: _Sheet, y: int, n: int, columns: int) -> np.ndarray:
    """Return absorbance of lines and dark specks on the fine grid, halo rows included."""
    y_fine = (y - sheet.halo) * sheet.fine
    lines = np.zeros(((n + 2 * sheet.halo) * sheet.fine, columns * sheet.fine), dtype=np.float32)
    inside = (sheet.rows_of[:, 1] >= y_fine) & (sheet.rows_of[:, 0] <= y_fine + len(lines))
    kernels.draw_strokes(
        lines, 0, y_fine, sheet.ends[inside], sheet.shape[inside], sheet.grain, sheet.grain_at,
        sheet.inked.ragged_um / sheet.pitch_um, sheet.inked.contact,
    )  # fmt: skip
    if sheet.mapping.crease is not None:
        kernels.clear_slit(lines, 0, y_fine, _fine_back(sheet.back, sheet.fine), sheet.mapping.crease_line)
    kernels.draw_marks(lines, 0, y_fine, sheet.dark, 0.93)
    return lines


def _strip(sheet: _Sheet, y: int, out: np.ndarray) -> None:
    """Fill rows `y` and on of a scan."""
    n, columns = out.shape
    fine, sigma = sheet.fine, OPTICS_SIGMA_UM / sheet.pitch_um
    lines = _lines(sheet, y, n, columns)
    base = np.empty((n, columns), dtype=np.float32)
    kernels.ground(
        base, y, sheet.back, sheet.mapping.inverse_mm, -WARP_REACH_MM, WARP_STEP_MM, sheet.mapping.crease_line,
        sheet.inked.film, FILM_STEP_MM, sheet.edge, sheet.inked.contact, sheet.grain, sheet.grain_at, fine,
    )  # fmt: skip
    if len(sheet.light):
        bare = np.zeros_like(lines)
        kernels.draw_marks(bare, 0, (y - sheet.halo) * fine, sheet.light, 1.0)
        lines *= 1 - bare
        base = 1 - (1 - base) * (1 - _scan_pixels(bare, sigma, fine, sheet.halo))
    light = 1 - _scan_pixels(lines, sigma, fine, sheet.halo)
    size = len(sheet.grain)
    rows_at = (np.arange(y, y + n) * fine + sheet.grain_at[1]) % size
    columns_at = (np.arange(columns) * fine + sheet.grain_at[0] + 1000) % size
    paper = (
        _clouds(sheet.seed, y, (n, columns), 1000 / (sheet.pitch_um * fine))
        + np.float32(PAPER_GRAIN) * sheet.grain[np.ix_(rows_at, columns_at)]
    )
    noise = np.random.default_rng([sheet.scan_seed, 41, y]).standard_normal((n, columns), dtype=np.float32)
    kernels.to_linear16(
        out, base, light, paper * np.float32(sheet.pull.grain), noise, sheet.pull.paper, y, sheet.lamp
    )


def render(plate: Plate, pull: Pull, ppi: float, seed: int, scan_seed: int | None = None) -> Rendered:
    """Render one pull of `plate` as scanned at `ppi`; the same arguments give the same scan, bit for bit.

    The same sheet laid down again has the same `seed`, another `scan_seed`, and perhaps another turn and margin.
    """
    sheet, size = _prepare(plate, pull, ppi, seed, seed if scan_seed is None else scan_seed)
    plane = np.empty(size, dtype=np.uint16)
    for y in range(0, size[0], STRIP_ROWS):
        _strip(sheet, y, plane[y : y + STRIP_ROWS])
    return Rendered(plane, sheet.mapping, sheet.inked, plate, pull, ppi)


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
