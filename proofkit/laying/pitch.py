"""Is hatching matched line on line, or one line off? Every field is also tried a line further to both sides."""

from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from proofkit.arrays import Floats, Index, Mask, Points
from proofkit.laying.ink import ink_windows
from proofkit.laying.matching_kernels import compare_beside
from proofkit.laying.rectify import plate_box
from proofkit.laying.reference import PITCHES_MM, MatchPictures
from proofkit.laying.standard_lines import StandardLines
from proofkit.laying.types import Laying
from proofkit.scan.levels import Levels
from proofkit.threads import each_in_order

BLOCK_MM = 6.0
"""Side of the fields that are tried: some thirty lines of usual hatching, which a hand never spaces alike. [mm]"""

FEWEST_POINTS = 60

ALIGNED = 0.6
"""Share of a field's line points that run in its main direction, for it to be hatching. [-]"""

BETTER_BY = 0.02
"""A field is in doubt when a line further it correlates better by this much; rightly matched it is far worse. [-]"""

ROWS_APART_MM = 0.1
"""Distance of the rows of cells that are read at first: every other one of 0.05 mm tells by how much a field is better
to 0.002 (benchmark sheet of 600 ppi: none of 3 000 fields one line off was missed). [mm]"""

MOST_AT_FIRST = 400
"""Of more fields every other is read at first: where controls of the warp lie 10 mm apart, what it takes to the next
line is wider than a field."""

LEAST_SPREAD = 0.5
"""A field with less spread than this shows nothing. [codes of ink]"""

AT_ONCE = 64
"""Fields that are read together."""


def doubtful_fields(
    laying: Laying, levels: Levels, paper: float, reference: MatchPictures, lines: StandardLines
) -> Points:
    """Return the middles of the fields of hatching that fit better when shifted by one line.

    Parameters
    ----------
    laying : Laying
        Of the sheet, after its last step.
    levels : Levels
        The sheet. [1/65535]
    paper : float
        Luminance of its bare paper. [-]
    reference, lines
        Of the standard.

    Returns
    -------
    Points
        (n, 2) middles of squares of 6 mm. [mm]

    Notes
    -----
    Of many fields every other is read, as on a chessboard, and those beside doubtful ones. Only fields that rows
    `ROWS_APART_MM` apart call better beside, by however little, are read wholly: lines run on over many rows.
    """
    fields = fields_of_hatching(lines, (reference.width_mm, reference.height_mm))
    per_mm = laying.px_per_mm
    level = max(k for k, pitch in enumerate(PITCHES_MM) if k == 0 or pitch * per_mm >= 0.7)
    asked = _Asked(laying, levels, paper, reference, level)
    middles, steps = (np.array([field[k] for field in fields]).reshape(-1, 2) for k in (0, 1))
    doubtful = np.zeros(len(middles), dtype=np.bool_)
    read = np.ones(len(middles), dtype=np.bool_)
    if len(middles) > MOST_AT_FIRST:
        read = np.floor(middles / BLOCK_MM).sum(axis=1) % 2 == 0
    doubtful[read] = _are_doubtful(asked, middles[read], steps[read])
    beside = np.flatnonzero(~read)
    apart = np.abs(middles[beside][:, None] - middles[doubtful][None, :]).max(axis=2)
    beside = beside[(apart < 1.5 * BLOCK_MM).any(axis=1)]
    doubtful[beside] = _are_doubtful(asked, middles[beside], steps[beside])
    return np.asarray(middles[doubtful])


class _Asked(NamedTuple):
    """A sheet, the standard, and the level of pitches at which they are compared."""

    laying: Laying
    levels: Levels
    paper: float
    reference: MatchPictures
    level: int


def _are_doubtful(asked: _Asked, middles: Points, steps: Points) -> Mask:
    """Return which fields correlate better by `BETTER_BY` a step further than where they lie."""
    every = max(round(ROWS_APART_MM / PITCHES_MM[asked.level]), 1)
    better = _better_beside(asked, middles, steps, every)
    if every > 1:
        unclear = np.flatnonzero(better > 0)
        better[unclear] = _better_beside(asked, middles[unclear], steps[unclear], 1)
    return np.asarray(better > BETTER_BY)


def _better_beside(asked: _Asked, middles: Points, steps: Points, every: int) -> Floats:
    """Return by how much each field correlates better a step further than where it lies, -1 where that is not told.

    Fields are cut where they or what they are compared with would reach beyond the plate; less than half of a side
    is not asked.
    """
    pitch = PITCHES_MM[asked.level]
    standard = asked.reference.levels[asked.level]
    box = plate_box(asked.reference.width_mm, asked.reference.height_mm, pitch)
    side = int(BLOCK_MM / pitch) // 2 * 2
    corners = np.rint(middles[:, ::-1] / pitch).astype(np.int64) - side // 2
    shift = np.rint(steps[:, ::-1] / pitch).astype(np.int64)
    reach = np.ceil(np.abs(steps).max(axis=1, initial=0.0) / pitch).astype(np.int64) + 2
    first = np.maximum(reach[:, None] - corners, 0)
    last = np.minimum(np.array(standard.shape) - reach[:, None] - corners, side)
    first[:, 0] = -(-first[:, 0] // every)
    last[:, 0] = -(-last[:, 0] // every)
    parts = np.column_stack((first[:, 0], last[:, 0], first[:, 1], last[:, 1]))
    enough = ((last - first) * (every, 1) >= side // 2).all(axis=1)

    def compared(some: Index) -> Floats:
        windows, _ = ink_windows(
            asked.levels, asked.laying, box, asked.paper, corners[some], side, every=every
        )
        here, beside, spread = compare_beside(
            standard, windows, parts[some], corners[some], shift[some], every
        )
        return np.where(spread >= LEAST_SPREAD, beside - here, -1.0)

    found = np.full(len(middles), -1.0)
    asked_for = np.flatnonzero(enough)
    if len(asked_for):
        some = np.array_split(asked_for, -(-len(asked_for) // AT_ONCE))
        found[asked_for] = np.concatenate(each_in_order(compared, some))
    return found


@lru_cache(maxsize=2)
def fields_of_hatching(
    lines: StandardLines, size_mm: tuple[float, float]
) -> tuple[tuple[Points, Points], ...]:
    """Return middle and step to the next line of each square that holds hatching, see `_fields`; once a standard."""
    return tuple(_fields(lines, size_mm))


def _fields(lines: StandardLines, size_mm: tuple[float, float]) -> Iterator[tuple[Points, Points]]:
    """Yield middle and step to the next line, both (2,) in mm, of each square that holds hatching."""
    columns, rows = (len(np.arange(0.0, side - BLOCK_MM / 2, BLOCK_MM)) for side in size_mm)
    at = np.floor(lines.lines.points_mm / BLOCK_MM).astype(np.intp)
    on_plate = (at >= 0).all(axis=1) & (at[:, 0] < columns) & (at[:, 1] < rows)
    hatched = np.flatnonzero(np.isfinite(lines.spacing_mm) & on_plate)
    square = at[hatched, 0] * rows + at[hatched, 1]
    in_order = hatched[np.argsort(square, kind="stable")]
    ends = np.cumsum(np.bincount(square, minlength=rows * columns))
    for number, inside in enumerate(np.split(in_order, ends[:-1])):
        if len(inside) < FEWEST_POINTS:
            continue
        nx, ny = lines.lines.normals[inside].T
        # Normals point either way; the doubled angle makes both the same.
        angle = np.arctan2(np.sum(2 * nx * ny), np.sum(nx * nx - ny * ny)) / 2
        normal = np.array([np.cos(angle), np.sin(angle)])
        along = np.abs(nx * normal[0] + ny * normal[1]) > 0.95
        if along.mean() < ALIGNED:
            continue
        spacing = float(np.median(lines.spacing_mm[inside][along]))
        middle = BLOCK_MM * (np.array(divmod(number, rows)) + 0.5)
        yield middle, spacing * normal
