"""Which line stands beside each point of a line, and how far away."""

from functools import lru_cache

import numpy as np

from proofkit.arrays import Floats, Index, Points
from proofkit.laying.standard_lines import StandardLines
from proofkit.laying.surroundings import PARALLEL_SINE
from proofkit.lines.nearness_kernels import course_across, parallel_neighbours
from proofkit.threads import each_in_order

BESIDE_MM = 1.2
"""Lines further apart than this do not count as a ruling. [mm]"""

CHUNK = 20_000
"""Points worked on at a time: a few MB of working memory."""

BESIDE_POINTS = 4
"""Points to both sides over which a line's course is straightened to tell its distance from the next."""


@lru_cache(maxsize=2)
def neighbour_distances(lines: StandardLines) -> tuple[Points, Points]:
    """Return (n, 2) distance and relative width of the line on each side; infinite and 1 for none. [mm], [-]

    The nearest point beside says which line is the neighbour; its distance is where a straight line through
    `BESIDE_POINTS` points to both sides of it meets the normal, since single points stray by a few µm. The line's own
    point strays as well: distances are from its own straightened course, where a fit finds its middle.
    """
    x, y = (np.ascontiguousarray(lines.lines.points_mm[:, a]) for a in (0, 1))
    normals = _smooth_normals(lines)
    nx, ny = (np.ascontiguousarray(normals[:, a]) for a in (0, 1))
    side, point = parallel_neighbours(x, y, nx, ny, lines.lines.line, 0.25, BESIDE_MM, PARALLEL_SINE)
    width = lines.spans.width_mm
    share = np.where(point >= 0, width[np.maximum(point, 0)] / width[:, None], 1.0)

    def straightened(part: tuple[int, Index]) -> None:
        column, known = part
        side[known, column] = _distance(lines, normals, known, point[known, column], side[known, column])

    known = [np.flatnonzero(point[:, column] >= 0) for column in range(2)]
    each_in_order(
        straightened,
        [(k, part) for k in range(2) for part in np.split(known[k], range(CHUNK, len(known[k]), CHUNK))],
    )
    return side, share


def _smooth_normals(lines: StandardLines) -> Points:
    """Return the normals of the lines, averaged over `BESIDE_POINTS` points to both sides. Shape (n, 2)."""
    number, n = lines.lines.line, lines.lines.size
    total = np.zeros((n, 2))
    for step in range(-BESIDE_POINTS, BESIDE_POINTS + 1):
        at = np.clip(np.arange(n) + step, 0, max(n - 1, 0))
        total += np.where((number[at] == number)[:, None], lines.lines.normals[at], 0.0)
    return np.asarray(total / np.maximum(np.linalg.norm(total, axis=1), 1e-9)[:, None])


def _distance(lines: StandardLines, normals: Points, index: Index, beside: Index, rough: Floats) -> Floats:
    """Return the distance of points `index` from the lines of points `beside`, along their normals. [mm]"""
    at, number = lines.lines.points_mm, lines.lines.line
    own, _ = course_across(at, normals, number, index, index, BESIDE_POINTS)
    other, count = course_across(at, normals, number, index, beside, BESIDE_POINTS)
    found = np.abs(other - own)
    # A line that ends or bends sharply there is left at the distance of its nearest point.
    return np.where((count > BESIDE_POINTS) & (np.abs(found - rough) < 0.2 * rough), found, rough)
