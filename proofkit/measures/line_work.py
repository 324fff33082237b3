"""What the line measures of a region are read from."""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Mask, Points
from proofkit.laying.standard_lines import CLEAR_SIGMAS, StandardLines
from proofkit.lines.crossings import PlacedValues
from proofkit.measures.line_fit import LineFits
from proofkit.measures.types import RegionRecord

CROSSINGS_MIN = 30
"""Fewer crossings make a median doubtful (common practice in sampling by hand). """

LEAST_PERIOD_PX = 2.2
"""Hatching closer than this is not resolved: two pixels a period is what sampling allows at the least. [px]"""

ALONG_PIXELS_PX = 2.5
"""... nor is hatching that has fewer pixels than this between lines along rows or columns of the scan: ruled patches of
300 and 400 ppi read up to 19 % and 0.16 D off below it where they run nearly along the pixels. [px]"""

CROSSED_GAP_PX = 2.5
"""Crossed hatching whose gaps are narrower than this leaves boxes that hold hardly a whole pixel: loads read up to 18 %
and films up to 0.05 D off (ruled patches of 400 and 600 ppi), 2 % and 0.005 D from there on. [px]"""

CROSSED_REACH_MM = 0.5
"""Lines that cross farther away than this leave a crossing to itself. [mm]"""


@dataclass(frozen=True, slots=True, eq=False)
class LineWork:
    """The line work of a region on one sheet; arrays run over the standard's points in it."""

    lines: StandardLines
    values: PlacedValues
    """All crossings, profile by profile."""
    fits: LineFits
    """All crossings, fitted through the blur."""
    px_mm: float
    """Side of a pixel of this scan. [plate mm]"""


def resolved(record: RegionRecord, work: LineWork) -> Mask:
    """Return which crossings of a region this scan and the standard's can tell apart. Shape (len(record.points),).

    Where most of the hatching is closer than a scan can show, what seems farther apart is a false picture of it: then
    none is. So it is where lines cross so densely that most gaps between them are too narrow.
    """
    points = record.points
    told = work.lines.spacing_mm[points] > _least_period_px(work.lines.lines.normals[points]) * work.px_mm
    told &= ~record.close
    hatched = work.fits.hatched[points] & np.isfinite(work.lines.spacing_mm[points])
    if hatched.any() and np.mean(told[hatched]) < 0.5:
        return np.zeros(len(points), dtype=np.bool_)
    if crossed_gap_mm(record, work) < CROSSED_GAP_PX * work.px_mm:
        told &= ~_crossed(record, work)
    return told


def well_apart(record: RegionRecord, work: LineWork) -> Mask:
    """Return which crossings of a region tell loads where many lie close to lines that cross: the farther half.

    Shape (len(record.points),). Close to a line that crosses a profile sees little light, and neighbours that are told
    from it take what belongs to the line: loads there read up to 4 % heavy, farther off within 1.5 % (held-out plates).
    Of crossings that no line crosses every other one tells, so that both kinds count by their number.
    """
    points, crossed = record.points, _crossed(record, work)
    apart = work.lines.apart_mm[points]
    among = crossed & work.lines.clear[points] & np.isfinite(work.fits.load_um[points])
    if among.sum() < 2 * CROSSINGS_MIN:
        return np.ones(len(points), dtype=np.bool_)
    return np.where(crossed, apart >= np.median(apart[among]), np.cumsum(~crossed) % 2 == 0)


def crossed_gap_mm(record: RegionRecord, work: LineWork) -> float:
    """Return how wide most gaps are between the lines that cross others; infinite where few do, 0 where all shut. [mm]

    Clear crossings lie evenly between the least way to a crossing line that counts as clear and half a gap.
    """
    points, crossed = record.points, _crossed(record, work)
    clear = work.lines.clear[points] & crossed
    if clear.sum() < CROSSINGS_MIN:
        return 0.0 if 2 * crossed.sum() > len(points) else float("inf")
    least = CLEAR_SIGMAS * work.fits.broad.blur_mm
    return 2 * (least + (float(np.percentile(work.lines.apart_mm[points][clear], 75)) - least) / 0.75)


def crossed_share(record: RegionRecord, work: LineWork) -> float:
    """Return which share of a region's line work lies close to lines that cross. [-]"""
    return float(np.mean(_crossed(record, work))) if len(record.points) else 0.0


def _crossed(record: RegionRecord, work: LineWork) -> Mask:
    return work.lines.apart_mm[record.points] < CROSSED_REACH_MM


def _least_period_px(normals: Points) -> Floats:
    """Return the closest hatching that is resolved, by its normals, (n, 2).

    Plates lie on the scanner within a few degrees or end for end, so that the plate's axes are those of the pixels.
    """
    steepest = np.maximum(np.abs(normals[:, 0]), np.abs(normals[:, 1]))
    return np.asarray(np.maximum(LEAST_PERIOD_PX, ALONG_PIXELS_PX * steepest))
