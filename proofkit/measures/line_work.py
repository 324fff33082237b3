"""What the line measures of a region are read from."""

from dataclasses import dataclass

from proofkit.arrays import Floats
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
