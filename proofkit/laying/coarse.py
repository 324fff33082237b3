"""Coarse to fine: where patches of the sheet lie against the standard's, each level less than a period."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats, Index, Ink, Mask, Numbers, Picture, Points
from proofkit.laying.ink import ink_cells, ink_windows, windows_of
from proofkit.laying.matching_kernels import correlate_patches
from proofkit.laying.rectify import Box, plate_box
from proofkit.laying.reference import PITCHES_MM, MatchPictures
from proofkit.laying.spline import WARP_STEP_MM, fit_warp, halved_net, widened_net
from proofkit.laying.types import Laying, warp_at
from proofkit.scan.levels import Levels
from proofkit.threads import each_in_order

WINDOW_CELLS = 48
"""Side of a patch: long enough that a hand's irregular hatching tells one line from the next. [cells]"""

SEARCH_CELLS = (5, 3, 2, 2)
"""How far each level of `PITCHES_MM` looks: 2.0, 0.6, 0.2 and 0.1 mm, several times what the level before leaves
open... [cells]"""

LATER_CELLS = 3
"""... in its first round; in later ones no further than this: a third of the products at the coarsest level. [cells]"""

ROUNDS = (3, 2, 2, 2)
"""Match and fit at most so often at each level: the second round starts where the first ended..."""

SETTLED_CELLS = 0.03
"""... and before the finest level is spared when the first moved the sheet by less than this, rms: on drawn sheets 0.04
left the laying as right as all rounds did, 0.1 made it 1 to 2 µm worse. [cells]"""

MOST_ALONG = 20, 40
"""Patches along the shorter side of the plate at most, before the last round of all and in it: few say enough for a
smooth field. The last settles how the sheet lies, the others only lead to it; fewer of them (10 and 14 at the two
coarsest levels) left a field of even hatching a line off on one of five drawn A3 sheets."""

HALVINGS = 3
"""The warp's controls lie up to so many times twice as far apart at first, 80 mm; from the second round of a level on
half as far as before, down to `WARP_STEP_MM`. A field that is a line off must not bend the warp to its own, and lines
that run one way say little of their place along themselves: with 10 mm from the start a field in 60 of even hatching
on A3 was laid one line off, and places were wrong by 0.14 mm; so none was, and 0.03 mm (five drawn sheets)."""

WIDEST_SHARE = 2.5
"""... and no further than the shorter side of the plate over this: small plates lie 0.1 to 1 µm worse with fewer."""

FINEST_CELL_PX = 0.7
"""Cells smaller than this are not matched: the scan does not hold them. [px]"""

OUTSIDE_SHARE = 0.02
"""A patch of which more lies outside the scan is not matched. [-]"""

FLAT_CODES = 3.0
"""A patch with less spread than this holds no line to match. [codes of ink]"""

FLAT_SHEET_CODES = 0.5
"""... and a place on a sheet with less spread than this holds nothing at all. [codes of ink]"""

FIRST_LEAN, LEAN = 0.1, 0.3
"""What the square of an offset costs a match, in the first round of all and in later ones: a line further, half a
millimetre off, even hatching correlates as well to 0.05, and a sheet lies within some 0.3 mm of its plate mark. Without
it, of 12 fields of even hatching on A3 two were laid one line off. [1/mm²]"""

LEAST_CURVATURE = 1e-4
"""Curvature of a score along lines, where it is flat: a match says next to nothing there. [1/cell²]"""


PARTS = 8
"""Parts of all patches that are correlated side by side."""


@dataclass(frozen=True, slots=True, eq=False)
class Matches:
    """Offsets of patches."""

    points_mm: Points
    """(n, 2) middles of the patches. [mm]"""
    offsets: Points
    """(n, 2) sheet minus standard. [cells]"""
    weights: Floats
    """(n, 2, 2) curvature of the match: small along lines, large across. [-]"""
    likeness: Floats
    """(n,) normalised correlation at the best place. [-]"""


class _Peaks(NamedTuple):
    """Highest points of scores, those that lie at a border left out."""

    kept: Index
    """(k,) numbers of the scores that have one."""
    shifts: Points
    """(k, 2) x, y from the middle of the score. [cells]"""
    curvature: Floats
    """(k, 2, 2), positive definite."""
    height: Floats
    """(k,) of the highest cell."""


def _peaks(scores: npt.NDArray[np.float32], lean: float) -> _Peaks:
    """Return offset, curvature and height of the highest point of each of (n, rows, columns) scores.

    Of points about as high the one nearer to the middle is taken: `lean` is what the square of a cell costs. [-]
    """
    n, rows, columns = scores.shape
    down, right = (np.arange(size) - size // 2 for size in (rows, columns))
    cost = (lean * (down[:, None] ** 2 + right**2)).astype(np.float32)
    best = (scores - cost).reshape(n, -1).argmax(axis=1)
    row, column = best // columns, best % columns
    kept = np.flatnonzero((row > 0) & (row < rows - 1) & (column > 0) & (column < columns - 1))
    row, column = row[kept], column[kept]
    near = np.arange(-1, 2)
    around = scores[
        kept[:, None, None], row[:, None, None] + near[:, None], column[:, None, None] + near[None, :]
    ].astype(np.float64)
    middle = around[:, 1, 1]
    slope_x = (around[:, 1, 2] - around[:, 1, 0]) / 2
    slope_y = (around[:, 2, 1] - around[:, 0, 1]) / 2
    xx = 2 * middle - around[:, 1, 2] - around[:, 1, 0]
    yy = 2 * middle - around[:, 2, 1] - around[:, 0, 1]
    xy = (around[:, 2, 0] + around[:, 0, 2] - around[:, 2, 2] - around[:, 0, 0]) / 4
    # Axes of the symmetric matrix [[xx, xy], [xy, yy]], and its curvatures along and across them, kept positive.
    angle = np.arctan2(2 * xy, xx - yy) / 2
    cos, sin = np.cos(angle), np.sin(angle)
    half, swing = (xx + yy) / 2, np.hypot((xx - yy) / 2, xy)
    one, two = np.maximum(half + swing, LEAST_CURVATURE), np.maximum(half - swing, LEAST_CURVATURE)
    curvature = np.empty((len(kept), 2, 2))
    curvature[:, 0, 0] = one * cos**2 + two * sin**2
    curvature[:, 1, 1] = one * sin**2 + two * cos**2
    curvature[:, 0, 1] = curvature[:, 1, 0] = (one - two) * cos * sin
    along, across = (cos * slope_x + sin * slope_y) / one, (cos * slope_y - sin * slope_x) / two
    x = column + np.clip(cos * along - sin * across, -0.7, 0.7) - (columns - 1) / 2
    y = row + np.clip(sin * along + cos * across, -0.7, 0.7) - (rows - 1) / 2
    return _Peaks(kept, np.column_stack((x, y)), curvature, middle)


def _corners(shape: tuple[int, int], search: int, most_along: int) -> tuple[Numbers, int]:
    """Return first row and column of the patches of a picture, (n, 2), and their side. [cells]"""
    h, w = shape
    size = min(WINDOW_CELLS, h - 2 * search - 2, w - 2 * search - 2)
    stride = max(size // 2, 8, min(h, w) // most_along)
    rows, columns = (_starts(length, size, stride, search) for length in shape)
    return np.array([(top, left) for top in rows for left in columns], dtype=np.int32), size


@dataclass(frozen=True, slots=True, eq=False)
class _Sheet:
    """What is matched with the standard."""

    levels: Levels
    paper: float


class _Search(NamedTuple):
    """How patches are looked for."""

    cells: int
    """Largest offset. [cells]"""
    most_along: int
    lean: float
    """[1/mm²]"""


def _match(sheet: _Sheet, laying: Laying, standard: Ink, box: Box, how: _Search) -> Matches:
    """Return where patches of the standard, on the cells of `box`, are found on a sheet that lies about as said."""
    search = how.cells
    corners, size = _corners((box.rows, box.columns), search, how.most_along)

    side = size + 2 * search
    # Where patches lie so close that their areas overlap, the whole picture is less than all of them.
    overlap = len(corners) * side**2 > box.rows * box.columns
    picture = ink_cells(sheet.levels, laying, box, sheet.paper) if overlap else None

    def correlated(part: Numbers) -> tuple[Mask, Picture]:
        if picture is not None:
            areas, beyond = windows_of(*picture, part - search, side)
        else:
            areas, beyond = ink_windows(sheet.levels, laying, box, sheet.paper, part - search, side)
        return correlate_patches(
            standard, areas, beyond, part, size, FLAT_CODES, FLAT_SHEET_CODES, OUTSIDE_SHARE
        )

    found = each_in_order(correlated, np.array_split(corners, min(PARTS, max(len(corners), 1))))
    used, scores = (np.concatenate(parts) for parts in zip(*found, strict=True))
    if not used.any():
        return Matches(np.empty((0, 2)), np.empty((0, 2)), np.empty((0, 2, 2)), np.empty(0))
    peaks = _peaks(scores[used], how.lean * box.pitch_mm**2)
    middles = (corners[used][peaks.kept][:, ::-1] + (size - 1) / 2) * box.pitch_mm
    return Matches(middles + np.array([box.x0_mm, box.y0_mm]), peaks.shifts, peaks.curvature, peaks.height)


def _starts(length: int, size: int, stride: int, margin: int) -> list[int]:
    last = length - size - margin
    return [*range(margin, last, stride), last] if last > margin else [max(last, margin)]


def _cells_to_px(laying: Laying, offsets: Points, pitch_mm: float) -> Points:
    return np.asarray(offsets * pitch_mm @ laying.affine[:, :2].T)


def refine(laying: Laying, levels: Levels, paper: float, reference: MatchPictures) -> tuple[Laying, float]:
    """Return the laying refined through all levels, and how alike the patches are at the finest one.

    Parameters
    ----------
    laying : Laying
        First guess, within 2 mm.
    levels : Levels
        The sheet. [1/65535]
    paper : float
        Luminance of its bare paper. [-]
    reference : MatchPictures
        Of the standard.

    Returns
    -------
    Laying
    float
        Median normalised correlation of the patches at the finest pitch that the scan holds.
    """
    per_mm = laying.px_per_mm
    alike = 0.0
    sheet = _Sheet(levels, paper)
    pitches = [pitch for pitch in PITCHES_MM if pitch * per_mm >= FINEST_CELL_PX]
    size = reference.width_mm, reference.height_mm
    halvings = int(np.log2(max(min(size) / WIDEST_SHARE / WARP_STEP_MM, 1.0)))
    laying = widened_net(laying, size, WARP_STEP_MM * 2 ** min(halvings, HALVINGS))
    for number, pitch in enumerate(pitches):
        finest = number == len(pitches) - 1
        box = plate_box(*size, pitch)
        for turn in range(ROUNDS[number]):
            left = len(pitches) - 1 - number + (turn == 0)
            laying = _at_most(laying, size, WARP_STEP_MM * 2**left)
            before = laying
            last = finest and turn == ROUNDS[number] - 1
            search = min(SEARCH_CELLS[number], LATER_CELLS) if turn else SEARCH_CELLS[number]
            how = _Search(search, MOST_ALONG[last], LEAN if number or turn else FIRST_LEAN)
            found = _match(sheet, laying, reference.levels[number], box, how)
            if len(found.likeness) < 4:
                break
            alike = float(np.median(found.likeness))
            laying = _fit(laying, found, pitch)
            moved = warp_at(laying, found.points_mm) - warp_at(before, found.points_mm)
            if not finest and np.sqrt(np.mean(moved**2)) < SETTLED_CELLS * pitch * per_mm:
                break
    return _at_most(laying, size, WARP_STEP_MM), alike


def _at_most(laying: Laying, size_mm: tuple[float, float], step_mm: float) -> Laying:
    """Return the laying with controls at most `step_mm` apart."""
    while laying.warp_step_mm > step_mm:
        laying = halved_net(laying, size_mm)
    return laying


def _fit(laying: Laying, found: Matches, pitch_mm: float) -> Laying:
    """Return the laying with its warp fitted to patch offsets."""
    per_mm = laying.px_per_mm
    trust = np.clip(found.likeness, 0.05, 1.0)
    # A match is good to about a tenth of a cell across lines; the curvature says how well each direction is held.
    strongest = np.maximum(np.linalg.eigvalsh(found.weights)[:, -1], 1e-6)
    sigma_px = 0.12 * pitch_mm * per_mm
    weights = found.weights / strongest[:, None, None] * (trust / sigma_px)[:, None, None] ** 2
    turned = laying.affine[:, :2] / per_mm
    weights = np.einsum("ab,nbc,dc->nad", turned, weights, turned)
    offsets_px = _cells_to_px(laying, found.offsets, pitch_mm)
    return fit_warp(laying, found.points_mm, offsets_px, weights, px_per_mm=per_mm)[0]
