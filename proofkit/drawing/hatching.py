"""Which printed lines are hatching: lines of a stack, evenly beside each other, that no contour answers for."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from proofkit.arrays import Floats, Index, Mask
from proofkit.drawing.types import Courses

WIDEST_MM = 0.8
"""Lines further apart than this are not taken for one passage of hatching. [mm]"""

ALIKE_RAD = 0.2
"""Lines of hatching run in one direction within 11 degrees. [rad]"""

EVEN = 1.5
"""The outermost line of a stack lies no further from its neighbour than this many spacings of the stack. [-]"""

BESIDE = 0.8
"""A line is beside a point when the way to it is across within 37 degrees, as a cosine. [-]"""

MOSTLY = 0.5
"""Share of a line that has to lie in the stack. [-]"""

EVERY = 4
"""A line is judged by every fourth of its points, 0.64 mm apart. [-]"""

NEAREST = 96
"""Points looked at around each, on its own line and others: in crossed hatching 0.2 mm apart they reach 0.6 mm. [-]"""

CHUNK = 8192
"""Points looked at together, so that memory does not grow with the print. [-]"""


def is_hatching(printed: Courses) -> Mask:
    """Return for each point whether its line is one of a stack of like lines.

    Notes
    -----
    A line has neighbours of like direction on both sides along most of it; the outermost lines of a stack have one,
    which is itself in the stack, at its spacing. A contour that hatching abuts runs on where the hatching ends.
    """
    count = int(printed.line.max(initial=-1)) + 1
    asked = _every(printed.line)
    line = printed.line[asked]
    beside = [_neighbours(printed, asked, side) for side in (-1, 1)]
    points = np.maximum(np.bincount(line, minlength=count), 1)
    between = np.isfinite(beside[0].distance_mm) & np.isfinite(beside[1].distance_mm)
    inner = np.bincount(line, weights=between, minlength=count) / points > MOSTLY
    spacing = np.full(count, np.nan)
    for number in np.flatnonzero(inner):
        at = (line == number) & between
        spacing[number] = float(np.median(np.concatenate([one.distance_mm[at] for one in beside])))
    outer = np.zeros(len(line), dtype=np.bool_)
    for one in beside:
        known = np.isfinite(one.distance_mm)
        outer[known] |= inner[one.line[known]] & (one.distance_mm[known] < EVEN * spacing[one.line[known]])
    last = np.bincount(line, weights=outer, minlength=count) / points > MOSTLY
    return np.asarray((inner | last)[printed.line])


class _Beside(NamedTuple):
    """The nearest lines of like direction on one side of some points."""

    distance_mm: Floats
    """(n,) NaN for none."""
    line: Index
    """(n,) their numbers."""


def _every(line: npt.NDArray[np.int32]) -> Index:
    """Return every `EVERY`th point of each line, from its first."""
    starts = np.flatnonzero(np.diff(line, prepend=-1))
    within = np.arange(len(line)) - np.repeat(starts, np.diff([*starts, len(line)]))
    return np.flatnonzero(within % EVERY == 0)


def _neighbours(printed: Courses, asked: Index, side: int) -> _Beside:
    """Return the nearest line of like direction on one side (1 or -1) of some points."""
    tree = cKDTree(printed.points_mm)
    distance, whose = np.full(len(asked), np.nan), np.zeros(len(asked), dtype=np.intp)
    for start in range(0, len(asked), CHUNK):
        mine = asked[start : start + CHUNK]
        _, near = tree.query(printed.points_mm[mine], NEAREST, distance_upper_bound=WIDEST_MM)
        missing = near == len(printed.line)
        near = np.where(missing, mine[:, None], near)
        direction = printed.direction[mine]
        normal = np.column_stack((-np.sin(direction), np.cos(direction)))
        way = printed.points_mm[near] - printed.points_mm[mine][:, None]
        across = side * np.einsum("nkc,nc->nk", way, normal)
        turn = np.abs(printed.direction[near] - direction[:, None])
        alike = np.minimum(turn, np.pi - turn) < ALIKE_RAD
        # Beside the point, not before or behind it.
        counts = alike & (printed.line[near] != printed.line[mine][:, None])
        counts &= across > BESIDE * np.hypot(way[..., 0], way[..., 1])
        across = np.where(counts, across, np.inf)
        best = across.argmin(axis=1)
        at = np.arange(len(mine))
        found = np.isfinite(across[at, best])
        distance[start : start + CHUNK] = np.where(found, across[at, best], np.nan)
        whose[start : start + CHUNK] = printed.line[near[at, best]]
    return _Beside(distance, whose)
