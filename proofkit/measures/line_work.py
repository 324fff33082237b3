"""What the line measures of a region are read from."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from proofkit.arrays import Floats, Index, Mask, Numbers, Points
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


SAMPLED = 8000
"""So many crossings of a region, evenly taken, say how most of them lie."""


@dataclass(frozen=True, slots=True, eq=False)
class LineWork:
    """The line work of one sheet; arrays run over all of the standard's points."""

    lines: StandardLines
    values: PlacedValues
    """All crossings, profile by profile."""
    fits: LineFits
    """All crossings, fitted through the blur."""
    px_mm: float
    """Side of a pixel of this scan. [plate mm]"""


@dataclass(frozen=True, eq=False)
class RegionLines:
    """The line work of a region on one sheet.

    Of a region's points a fifth or less may be read and fitted on every sheet. Arrays run over these, but for those
    that are said to run over all points.
    """

    record: RegionRecord
    work: LineWork

    @cached_property
    def told(self) -> Index:
        """Which of the region's points are read or were to be fitted."""
        points, work = self.record.points, self.work
        return np.flatnonzero(work.fits.chosen[points] | np.isfinite(work.values.load_um[points]))

    @cached_property
    def points(self) -> Index:
        """Their numbers among the standard's points."""
        return np.asarray(self.record.points[self.told])

    @cached_property
    def clear(self) -> Mask:
        """No other line lies over them."""
        return np.asarray(self.work.lines.clear[self.points])

    @cached_property
    def number(self) -> Numbers:
        """Line of each."""
        return np.asarray(self.work.lines.lines.line[self.points])

    @cached_property
    def hatched(self) -> Mask:
        """A neighbour's blur reaches the line."""
        return np.asarray(self.work.fits.hatched[self.points])

    @cached_property
    def spacing_mm(self) -> Floats:
        """Mean distance of parallel neighbours; infinite for none. [mm]"""
        return np.asarray(self.work.lines.spacing_mm[self.points])

    @cached_property
    def integral_um(self) -> Floats:
        """Load by the profile. [µm]"""
        return self.work.values.load_um[self.points]

    @cached_property
    def width_um(self) -> Floats:
        """Width by the fit. [µm]"""
        return self.work.fits.width_um[self.points]

    @cached_property
    def depth(self) -> Floats:
        """1 - R/Rg by the fit. [-]"""
        return self.work.fits.depth[self.points]

    @cached_property
    def apart_of_all_mm(self) -> Floats:
        """(all points,) way to the nearest line beside the profile. [mm]"""
        return np.asarray(self.work.lines.apart_mm[self.record.points])

    @cached_property
    def crossed_of_all(self) -> Mask:
        """(all points,) a line crosses close by."""
        return np.asarray(self.apart_of_all_mm < CROSSED_REACH_MM)

    @cached_property
    def sample(self) -> Index:
        """Places of `SAMPLED` of all points, evenly taken."""
        size = len(self.record.points)
        return np.arange(0, size, max(size // SAMPLED, 1))

    @cached_property
    def crossed_gap_mm(self) -> float:
        """How wide most gaps are between the lines that cross others; infinite where few do, 0 where all shut. [mm]

        Clear crossings lie evenly between the least way to a crossing line that counts as clear and half a gap.
        """
        points, crossed = self.record.points, self.crossed_of_all
        if not crossed.any():
            return float("inf")
        clear = self.work.lines.clear[points] & crossed
        if clear.sum() < CROSSINGS_MIN:
            return 0.0 if 2 * crossed.sum() > len(points) else float("inf")
        least = CLEAR_SIGMAS * self.work.fits.broad.blur_mm
        apart = self.apart_of_all_mm[clear]
        apart = apart[:: max(len(apart) // SAMPLED, 1)]
        return 2 * (least + (float(np.percentile(apart, 75)) - least) / 0.75)

    @cached_property
    def resolved(self) -> Mask:
        """Which crossings this scan and the standard's can tell apart.

        Where most of the hatching is closer than a scan can show, what seems farther apart is a false picture of it:
        then none is. So it is where lines cross so densely that most gaps between them are too narrow.
        """
        of_sample = self._far_enough(self.sample)
        sampled = self.record.points[self.sample]
        hatched = self.work.fits.hatched[sampled] & np.isfinite(self.work.lines.spacing_mm[sampled])
        if hatched.any() and np.mean(of_sample[hatched]) < 0.5:
            return np.zeros(len(self.points), dtype=np.bool_)
        found = self._far_enough(self.told)
        if self.crossed_gap_mm < CROSSED_GAP_PX * self.work.px_mm:
            found &= ~self.crossed_of_all[self.told]
        return found

    def _far_enough(self, places: Index) -> Mask:
        """Return whether the lines at some places among all points have enough pixels between them on both scans."""
        points, lines = self.record.points[places], self.work.lines
        least_mm = _least_period_px(lines.lines.normals[points]) * self.work.px_mm
        return np.asarray((lines.spacing_mm[points] > least_mm) & ~self.record.close[places])


def well_apart(region: RegionLines) -> Mask:
    """Return which crossings tell loads where many lie close to lines that cross: the farther half.

    Close to a line that crosses a profile sees little light, and neighbours that are told from it take what belongs to
    the line: loads there read up to 4 % heavy, farther off within 1.5 % (held-out plates). Of crossings that no line
    crosses every other one tells, so that both kinds count by their number.
    """
    crossed, apart = region.crossed_of_all[region.told], region.apart_of_all_mm[region.told]
    among = crossed & region.clear & np.isfinite(region.width_um)
    if among.sum() < 2 * CROSSINGS_MIN:
        return np.ones(len(crossed), dtype=np.bool_)
    every_other = np.cumsum(~region.crossed_of_all)[region.told] % 2 == 0
    return np.where(crossed, apart >= np.median(apart[among]), every_other)


def crossed_share(region: RegionLines) -> float:
    """Return which share of a region's line work lies close to lines that cross. [-]"""
    return float(np.mean(region.crossed_of_all)) if len(region.record.points) else 0.0


def _least_period_px(normals: Points) -> Floats:
    """Return the closest hatching that is resolved, by its normals, (n, 2).

    Plates lie on the scanner within a few degrees or end for end, so that the plate's axes are those of the pixels.
    """
    steepest = np.maximum(np.abs(normals[:, 0]), np.abs(normals[:, 1]))
    return np.asarray(np.maximum(LEAST_PERIOD_PX, ALONG_PIXELS_PX * steepest))
