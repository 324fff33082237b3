"""A measured edition: what the folder says and the tables that were measured from it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from proofkit.arrays import Picture
from proofkit.columns import REPEATABILITY, SPECKS, make_table

if TYPE_CHECKING:
    import pandas as pd

    from proofkit.folder.edition import Edition, Region

HISTOGRAM_STEP_DENSITY = 0.01
"""Width of a bin of the kept tone histograms. [D]"""

HISTOGRAM_START_DENSITY = -0.2
"""Lower edge of the first bin: grain and noise scatter about bare paper. [D]"""

HISTOGRAM_BINS = 270
"""Number of bins, up to 2.5 D; the last bin holds all that is darker."""


TONE_PITCH_MM = 0.5
"""Cell of the coarse tone pictures. [mm]"""


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredEdition:
    """Tables of one edition; `proofkit.columns` declares them."""

    edition: Edition
    regions: tuple[Region, ...]
    """As measured: of regions.csv, or proposed."""
    standard: str
    """Pull that serves as standard."""
    is_provisional: bool
    """True when no standard is named and the most central pull serves."""
    measurements: pd.DataFrame
    sheets: pd.DataFrame
    histograms: dict[tuple[str, str], list[int]]
    """(pull, region) -> counts of the density histogram."""
    tone_pictures: dict[str, Picture]
    """Pull -> coarse picture of linear reflectance against bare paper in the plate frame, one value per
    `TONE_PITCH_MM`; NaN where the sheet has none."""
    failures: dict[str, str]
    """Pull -> the one line that says why its scan could not be measured."""
    plate_width_mm: float
    plate_height_mm: float
    repeatability: pd.DataFrame = field(default_factory=lambda: make_table([], REPEATABILITY))
    """Table `repeatability` of the last re-lay study; empty when there was none."""
    specks: pd.DataFrame = field(default_factory=lambda: make_table([], SPECKS))
    """Where each sheet has specks that the standard has not."""


PlatePictures = Callable[[str, tuple[float, float, float, float], float], Picture]
"""``(pull, (x0, y0, x1, y1) in plate mm, px per mm) -> (h, w)`` linear reflectance against bare paper, laid on the
standard, for looking only; NaN outside the scan."""
