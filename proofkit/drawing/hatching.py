"""Which printed lines are hatching: lines of a stack, evenly beside each other, that no contour answers for."""

import numpy as np
from scipy.spatial import cKDTree

from proofkit.arrays import Floats, Mask
from proofkit.drawing.types import Courses

WIDEST_MM = 0.8
"""Lines further apart than this are not taken for one passage of hatching. [mm]"""

ALIKE_RAD = 0.2
"""Lines of hatching run in one direction within 11 degrees. [rad]"""

EVEN = 1.5
"""The outermost line of a stack lies no further from its neighbour than this many spacings of the stack. [-]"""

MOSTLY = 0.5
"""Share of a line that has to lie in the stack. [-]"""

NEAREST = 24
"""Points looked at around each: lines have one every 0.16 mm."""


def is_hatching(printed: Courses) -> Mask:
    """Return for each point whether its line is one of a stack of like lines.

    Notes
    -----
    A line has neighbours of like direction on both sides along most of it; the outermost lines of a stack have one,
    which is itself in the stack, at its spacing. A contour that hatching abuts runs on where the hatching ends.
    """
    left, right, whose = _neighbours(printed)
    count = int(printed.line.max(initial=-1)) + 1
    length = np.maximum(np.bincount(printed.line, minlength=count), 1)
    between = np.isfinite(left) & np.isfinite(right)
    inner = np.bincount(printed.line, weights=between, minlength=count) / length > MOSTLY
    spacing = np.full(count, np.nan)
    for number in np.flatnonzero(inner):
        at = (printed.line == number) & between
        spacing[number] = float(np.median(np.concatenate((left[at], right[at]))))
    outer = np.zeros(len(left), dtype=np.bool_)
    for side, neighbour in ((left, whose[0]), (right, whose[1])):
        known = np.isfinite(side)
        outer[known] |= inner[neighbour[known]] & (side[known] < EVEN * spacing[neighbour[known]])
    last = np.bincount(printed.line, weights=outer, minlength=count) / length > MOSTLY
    return np.asarray((inner | last)[printed.line])


def _neighbours(printed: Courses) -> tuple[Floats, Floats, tuple[np.ndarray, np.ndarray]]:
    """Return distances of the nearest lines of like direction on both sides (NaN for none), and their numbers."""
    points, direction = printed.points_mm, printed.direction
    tree = cKDTree(points)
    normal = np.column_stack((-np.sin(direction), np.cos(direction)))
    distance = [np.full(len(points), np.nan), np.full(len(points), np.nan)]
    whose = [np.zeros(len(points), dtype=np.intp), np.zeros(len(points), dtype=np.intp)]
    for k, near in enumerate(tree.query_ball_point(points, WIDEST_MM)):
        at = np.array(near, dtype=np.intp)
        turn = np.abs(direction[at] - direction[k])
        at = at[(printed.line[at] != printed.line[k]) & (np.minimum(turn, np.pi - turn) < ALIKE_RAD)]
        way = points[at] - points[k]
        across = way @ normal[k]
        # Beside the point, not before or behind it.
        beside = np.abs(across) > 0.8 * np.hypot(*way.T)
        for side, sign in enumerate((-1, 1)):
            mine = np.flatnonzero(beside & (sign * across > 0))
            if len(mine):
                best = mine[np.argmin(np.abs(across[mine]))]
                distance[side][k] = abs(across[best])
                whose[side][k] = printed.line[at[best]]
    return distance[0], distance[1], (whose[0], whose[1])
