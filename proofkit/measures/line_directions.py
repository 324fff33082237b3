"""Length, spacing and directions of the lines of a region."""

from typing import NamedTuple

import numpy as np

from proofkit.arrays import Mask
from proofkit.laying.standard_lines import StandardLines
from proofkit.measures.line_neighbours import neighbour_distances
from proofkit.measures.line_work import CROSSINGS_MIN
from proofkit.measures.types import RegionRecord
from proofkit.measures.uncertainty import MEDIAN_FACTOR, ROBUST, U_SCALE, combined

SAME_DIRECTION_DEG = 15.0
"""Lines within this angle of each other are one ruling. [deg]"""

SECOND_SHARE = 0.25
"""A second direction with this share of the first's length makes cross-hatching (choice of ours). [-]"""


def line_geometry(record: RegionRecord, lines: StandardLines) -> dict[str, float]:
    """Return length, spacing and directions of the standard's lines in a region; they belong to the plate."""
    length = lines.lines.length_mm[record.points]
    row = {"line_length_mm_per_mm2": float(length.sum() / record.area_mm2)}
    main = _direction(record, lines, np.ones(len(length), dtype=np.bool_))
    row["line_angle_deg"], row["u_line_angle_deg"] = main.angle_deg, main.u_angle_deg
    row["lines_per_mm"], row["u_lines_per_mm"] = main.per_mm, main.u_per_mm
    other = _direction(record, lines, ~main.along)
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


def _direction(record: RegionRecord, lines: StandardLines, among: Mask) -> _Direction:
    """Return the main direction of some points of a region, the spacing there and which points follow it."""
    points = record.points
    length = np.where(among, lines.lines.length_mm[points], 0.0)
    normals = lines.lines.normals[points]
    # Direction of the line counter-clockwise as seen, rows running down: (x, -y) of the tangent.
    angle = np.degrees(np.arctan2(normals[:, 0], normals[:, 1])) % 180
    bins = np.bincount((angle / 5).astype(np.intp) % 36, weights=length, minlength=36)
    main = 5 * (int(np.argmax(bins + np.roll(bins, 1) + np.roll(bins, -1))) + 0.5)
    apart = (angle - main + 90) % 180 - 90
    along = among & (np.abs(apart) < SAME_DIRECTION_DEG)
    if not along.any():
        return _Direction(*(float("nan"),) * 4, along)
    count = len(np.unique(lines.lines.line[points][along]))
    mean = float((main + np.average(apart[along], weights=length[along])) % 180)
    side = neighbour_distances(lines)[0][points][along]
    spacing = side[np.isfinite(side)]
    u_angle = ROBUST * float(np.median(np.abs(apart[along] - np.median(apart[along])))) / np.sqrt(count)
    if len(spacing) <= CROSSINGS_MIN:
        return _Direction(mean, u_angle, float("nan"), float("nan"), along)
    middle = float(np.median(spacing))
    relative = ROBUST * float(np.median(np.abs(spacing / middle - 1))) * MEDIAN_FACTOR / np.sqrt(count)
    return _Direction(mean, u_angle, 1 / middle, combined(relative, U_SCALE) / middle, along)
