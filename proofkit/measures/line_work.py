"""What the line measures of a region are read from."""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Index, Mask
from proofkit.laying.standard_lines import StandardLines
from proofkit.lines.crossings import PlacedValues
from proofkit.measures.line_fit import LineFits

CROSSINGS_MIN = 30
"""Fewer crossings make a median doubtful (common practice in sampling by hand). """

LEAST_PERIOD_PX = 2.2
"""Hatching closer than this is not resolved: two pixels a period is what sampling allows at the least. [px]"""


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
    half_along_mm: Floats
    """How far to both sides along its line each crossing took its pixels from. [mm]"""


def resolved(work: LineWork, points: Index) -> Mask:
    """Return which crossings of a region stand far enough from the next line for this scan.

    Where most of the hatching is closer than a scan can show, what seems farther apart is a false picture of it: then
    none is.
    """
    spacing, least = work.lines.spacing_mm[points], LEAST_PERIOD_PX * work.px_mm
    hatched = spacing[work.fits.hatched[points] & np.isfinite(spacing)]
    if len(hatched) and np.median(hatched) <= least:
        return np.zeros(len(points), dtype=np.bool_)
    return np.asarray(spacing > least)
