"""Lines that are none: the dark rows between the crossings of hatching."""

from typing import TYPE_CHECKING

import numpy as np

from proofkit.arrays import Floats, Mask, Numbers, Points
from proofkit.lines.lattice_kernels import lattice_phase
from proofkit.lines.nearness_kernels import overruled_by_two
from proofkit.lines.types import LineMap

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

CORNER_MM = 1.0
"""A line as short as this may be the corner of a broad one. [mm]"""

CORNER_RATIO = 4.0
"""... where one so much stronger runs beside it or crosses it: the ends of drawn strokes of 0.4 mm answer with 0.10
against 0.69. [-]"""

CORNER_REACH_MM = 0.3
"""... within this: half a stroke of 0.5 mm, and the distance between ridge points. [mm]"""

CELL_MM = 0.2
"""Cells that points are sorted into. [mm]"""

APART_SINE = 0.34
"""Directions more than 20 degrees apart. [-]"""

DIAGONAL_RATIO = 1.5
"""Lines of a lattice are about twice as strong as its diagonals (simulated cross-hatching). [-]"""

DIAGONAL_REACH_MM = 0.22
"""About one spacing of dense cross-hatching. [mm]"""

DIAGONAL_SHARE = 0.6
"""Share of a line's points that must be overruled. [-]"""

FLAT_SINE = 0.77
"""Hatching crosses at a flat angle below 50 degrees; at wider ones rows are weak, and a third layer is usual. [-]"""

ROW_RATIO = 1.1
"""Where hatching crosses at a flat angle, its dark rows are nearly as strong as its lines (1.33 in simulated hatching
of 30 degrees). [-]"""

ROW_PHASE = 0.6
"""A row keeps the two directions in step: simulated rows 0.8 to 0.95; a line of its own drifts from one step to the
next or, parallel to the rows by chance, has a step of its own. [-]"""

OWN_PHASE = 0.4
"""Lines of a layer of their own agree on a step no better than this. [-]"""

NO_SINE = 1.1
"""Any angle. [-]"""

ROW_CROSSINGS = 4
"""A step is told from so many crossings on. [crossings]"""

BESIDE_MM = 3.0
"""How far away parallel rows are asked whether they agree. [mm]"""


def without_rows(lines: LineMap, spacing_mm: float) -> LineMap:
    """Return the lines without the diagonals of cross-hatching.

    A row of crossings is a weak ridge that follows the dark way from one crossing to the next. It always has
    clearly stronger lines of two other directions beside it, all along. Where hatching crosses at a flat angle the
    darkest rows lie between the crossings, since lines that overlap print less than lines side by side; there the
    lines of the two directions alternate evenly, row after row.

    Parameters
    ----------
    lines : LineMap
    spacing_mm : float
        Distance of the points along a line. [mm]
    """
    drop = (
        _overruled(lines) & ~_out_of_step(lines, spacing_mm) | _in_step(lines, spacing_mm) | _corners(lines)
    )
    keep = ~drop[lines.line]
    number = np.unique(lines.line[keep], return_inverse=True)[1].astype(np.int32)
    return LineMap(
        lines.points_mm[keep], lines.normals[keep], number, lines.length_mm[keep], lines.contrast[keep]
    )


def _corners(lines: LineMap) -> Mask:
    """Return (lines,) whether a line is short and has a far stronger one beside it all along.

    The square ends of broad strokes, and the corners where they cross, have edges that answer as faint lines.
    """
    length = np.bincount(lines.line, weights=lines.length_mm)
    short = np.flatnonzero((length < CORNER_MM)[lines.line])
    found = np.zeros(len(length), dtype=np.bool_)
    if not len(short):
        return found
    near = _tree(lines.points_mm).query_ball_point(lines.points_mm[short], CORNER_REACH_MM)
    strongest = np.array([lines.contrast[others].max() for others in near])
    beside = strongest > CORNER_RATIO * lines.contrast[short]
    share = np.bincount(lines.line[short], weights=beside, minlength=len(length)) / np.bincount(lines.line)
    return np.asarray(share >= DIAGONAL_SHARE)


def _columns(lines: LineMap) -> tuple[Floats, Floats, Floats, Floats]:
    return (
        lines.points_mm[:, 0].copy(),
        lines.points_mm[:, 1].copy(),
        lines.normals[:, 0].copy(),
        lines.normals[:, 1].copy(),
    )


def _overruled(lines: LineMap) -> Mask:
    """Return (lines,) whether much stronger lines of two other directions run beside a line, all along."""
    over = overruled_by_two(
        *_columns(lines), lines.contrast, CELL_MM, DIAGONAL_REACH_MM, DIAGONAL_RATIO, APART_SINE
    )
    share = np.bincount(lines.line, weights=over) / np.bincount(lines.line)
    return np.asarray(share >= DIAGONAL_SHARE)


def _in_step(lines: LineMap, spacing_mm: float) -> Mask:
    """Return (lines,) whether lines of two directions at a flat angle alternate along a line and those beside it."""
    phase, told = _phase(lines, spacing_mm, FLAT_SINE)
    found = (phase < -ROW_PHASE) & (told >= ROW_CROSSINGS)
    found[found] = _agreed(lines, phase, told, found)[0] < -ROW_PHASE
    return found


def _out_of_step(lines: LineMap, spacing_mm: float) -> Mask:
    """Return (lines,) whether a line and those beside it cross two stronger directions in no common step.

    A lighter layer of hatching may lie parallel to the rows of two others; its lines then do not agree on a step. Where
    hatching is laid by hand some rows slip over the crossings: the mean phase of rows is then no larger than that of a
    layer, but most of their length still alternates evenly.
    """
    phase, told = _phase(lines, spacing_mm, NO_SINE)
    found = told >= ROW_CROSSINGS
    mean, middle = _agreed(lines, phase, told, found)
    found[found] = (np.abs(mean) < OWN_PHASE) & (middle > -ROW_PHASE)
    return found


def _phase(lines: LineMap, spacing_mm: float, flat_sine: float) -> tuple[Floats, Numbers]:
    return lattice_phase(
        *_columns(lines),
        lines.line,
        lines.contrast,
        CELL_MM,
        spacing_mm / 2,
        ROW_RATIO,
        APART_SINE,
        flat_sine,
    )


def _agreed(lines: LineMap, phase: Floats, told: Numbers, chosen: Mask) -> tuple[Floats, Floats]:
    """Return mean and median phase of each chosen line and the parallel ones about it, (chosen lines,) each.

    The mean is weighed by crossings, the median by length.
    """
    some = np.flatnonzero(told >= ROW_CROSSINGS)
    if not len(some):
        return np.empty(0), np.empty(0)
    starts = np.searchsorted(lines.line, np.arange(len(phase)))
    middle = (starts + np.append(starts[1:], len(lines.line)) - 1) // 2
    at, normal = lines.points_mm[middle], lines.normals[middle]
    length = np.bincount(lines.line, weights=lines.length_mm)
    tree = _tree(at[some])
    means, medians = [], []
    for k in np.flatnonzero(chosen):
        near = some[tree.query_ball_point(at[k], BESIDE_MM)]
        sine = normal[near, 0] * normal[k, 1] - normal[near, 1] * normal[k, 0]
        parallel = near[np.abs(sine) < APART_SINE]
        means.append(float(np.average(phase[parallel], weights=told[parallel])))
        medians.append(_weighted_median(phase[parallel], length[parallel]))
    return np.array(means), np.array(medians)


def _weighted_median(values: Floats, weights: Floats) -> float:
    order = np.argsort(values, kind="stable")
    total = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(total, total[-1] / 2)])


def _tree(points_mm: Points) -> "cKDTree":
    """Return points by their places."""
    from scipy.spatial import cKDTree  # noqa: PLC0415  6 MB, and only the standard's lines are found

    return cKDTree(points_mm)
