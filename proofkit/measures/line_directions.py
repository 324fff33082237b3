"""Length, spacing and directions of the lines of a region."""

from typing import NamedTuple

import numpy as np

from proofkit.arrays import Floats, Mask, Numbers, Points
from proofkit.laying.standard_lines import StandardLines
from proofkit.measures.line_neighbours import neighbour_distances
from proofkit.measures.line_work import CROSSINGS_MIN
from proofkit.measures.sampling import u_median
from proofkit.measures.types import RegionRecord
from proofkit.measures.uncertainty import U_SCALE, combined

SAME_DIRECTION_DEG = 15.0
"""Lines within this angle of each other are one ruling. [deg]"""

SECOND_SHARE = 0.25
"""A second direction with this share of the first's length makes cross-hatching (choice of ours). [-]"""

U_FRAME_DEG = 0.01
"""Standard uncertainty of the plate's own x axis: edges of the plate mark lie within 0.1 to 0.6 px (drawn sheets), on
a side of 60 mm at 600 ppi half of that is 12 µm. [deg]"""

CLEAR_SHARE = 0.4
"""With this share of crossings that no other line covers, they alone tell the direction (choice of ours). [-]"""

WEAK_SHARE = 0.6
"""Lines weaker than this share of the median are left out: rows of crossings have 0.4 of the strength of the lines that
cross (ruled patches), and run at other angles. [-]"""

ALIKE_POINTS = 8
"""Points of a line that stray from its course together: ridges wander over about a millimetre (ruled lines)."""


def line_geometry(record: RegionRecord, lines: StandardLines, centres_mm: Points) -> dict[str, float]:
    """Return length, spacing and directions of the standard's lines in a region; they belong to the plate.

    Parameters
    ----------
    record : RegionRecord
    lines : StandardLines
    centres_mm : Points
        (len(record.points), 2) where the ink of each crossing has its middle on the standard. [mm]
    """
    length = lines.lines.length_mm[record.points]
    row = {"line_length_mm_per_mm2": float(length.sum() / record.area_mm2)}
    main = _direction(record, lines, centres_mm, np.ones(len(length), dtype=np.bool_))
    row["line_angle_deg"], row["u_line_angle_deg"] = main.angle_deg, main.u_angle_deg
    row["lines_per_mm"], row["u_lines_per_mm"] = main.per_mm, main.u_per_mm
    other = _direction(record, lines, centres_mm, ~main.along)
    if length[other.along].sum() > SECOND_SHARE * length[main.along].sum():
        row["second_line_angle_deg"], row["u_second_line_angle_deg"] = other.angle_deg, other.u_angle_deg
        row["second_lines_per_mm"], row["u_second_lines_per_mm"] = other.per_mm, other.u_per_mm
    return row


class _Direction(NamedTuple):
    """Lines of one direction."""

    angle_deg: float
    u_angle_deg: float
    per_mm: float
    """NaN where too few stand side by side."""
    u_per_mm: float
    along: Mask


def _direction(record: RegionRecord, lines: StandardLines, centres_mm: Points, among: Mask) -> _Direction:
    """Return the main direction of some points of a region, the spacing there and which points follow it."""
    points = record.points
    length = np.where(among, lines.lines.length_mm[points], 0.0)
    normals = lines.lines.normals[points]
    # Direction of the line counter-clockwise as seen, rows running down: (x, -y) of the tangent.
    angle = np.degrees(np.arctan2(normals[:, 0], normals[:, 1])) % 180
    # Rows of crossings in a lattice are long, but weak: strength counts as length does.
    strength = lines.lines.contrast[points]
    bins = np.bincount((angle / 5).astype(np.intp) % 36, weights=length * strength, minlength=36)
    main = 5 * (int(np.argmax(bins + np.roll(bins, 1) + np.roll(bins, -1))) + 0.5)
    along = among & (np.abs((angle - main + 90) % 180 - 90) < SAME_DIRECTION_DEG)
    if not along.any():
        return _Direction(*(float("nan"),) * 4, along)
    number = lines.lines.line[points][along]
    # Where another line crosses, the middle of the ink is not that of the line.
    clear = lines.clear[points][along]
    told = clear if clear.sum() > CLEAR_SHARE * len(clear) else np.ones(len(clear), dtype=np.bool_)
    told = told & (strength[along] > WEAK_SHARE * np.median(strength[along][told]))
    mean, u_angle = common_direction(centres_mm[along][told], _unbroken(number, along)[told])
    side = neighbour_distances(lines)[0][points][along][told]
    spacing = side[np.isfinite(side)]
    if len(spacing) <= CROSSINGS_MIN:
        return _Direction(mean, u_angle, float("nan"), float("nan"), along)
    middle = float(np.median(spacing))
    # Towards one side, so that every gap counts once.
    one = np.isfinite(side[:, 0])
    relative = u_median(side[one, 0], number[told][one]) / middle
    return _Direction(mean, u_angle, 1 / middle, combined(relative, U_SCALE) / middle, along)


def _unbroken(number: Numbers, along: Mask) -> Numbers:
    """Return a number for each stretch of a line that follows the direction without a break.

    In cross-hatching a traced line may turn into a crossing one and back into the next that is parallel to it.
    """
    at = np.flatnonzero(along)
    starts = (np.diff(at, prepend=-2) != 1) | (np.diff(number, prepend=-1) != 0)
    return np.cumsum(starts)


def common_direction(points_mm: Points, number: Numbers) -> tuple[float, float]:
    """Return the direction of parallel lines through points, counter-clockwise as seen, and its uncertainty. [deg]

    Parameters
    ----------
    points_mm : Points
        (n, 2) points, y down. [mm]
    number : (n,) int
        Line of each point; the points of a line follow each other.

    Returns
    -------
    tuple of float
        0 to 180, and its standard uncertainty; NaN where no line has two points.

    Notes
    -----
    Least squares of the distances of all points from parallel lines, one through the middle of each line's points: the
    direction is the principal axis of the points about their lines' middles (Pearson 1901). Tangents averaged over a
    line would amount to the direction from its first to its last point, which are the least certain of all. The
    uncertainty is that of a slope whose residuals are alike over `ALIKE_POINTS` points (sum of squared scores).
    """
    _, line = np.unique(number, return_inverse=True)
    count = np.bincount(line)
    middle = np.column_stack([np.bincount(line, weights=points_mm[:, a]) / count for a in (0, 1)])
    rest = points_mm - middle[line]
    if not rest.any():
        return float("nan"), float("nan")
    tangent = np.linalg.eigh(rest.T @ rest)[1][:, 1]
    place, off = rest @ tangent, rest @ (-tangent[1], tangent[0])
    u_slope = max(
        _spread_of_sum(_block_sums(place * off, line), len(count)),
        _spread_of_sum(np.bincount(line, weights=place * off).astype(np.float64), 0),
    ) / float(place @ place)
    angle = float(np.degrees(np.arctan2(-tangent[1], tangent[0])) % 180)
    return angle, combined(float(np.degrees(u_slope)), U_FRAME_DEG)


def _spread_of_sum(scores: Floats, fitted: int) -> float:
    """Return the standard deviation of the sum of independent scores about 0, of which some numbers were fitted."""
    n = len(scores)
    return float(np.sqrt(n / max(n - fitted - 1, 1) * float(scores @ scores)))


def _block_sums(values: Floats, line: Numbers) -> Floats:
    """Return sums over `ALIKE_POINTS` points that follow each other on a line."""
    first = np.flatnonzero(np.diff(line, prepend=-1))
    place = np.arange(len(line)) - np.repeat(first, np.diff(first, append=len(line)))
    block = np.flatnonzero(place % ALIKE_POINTS == 0)
    return np.asarray(np.add.reduceat(values, block))
