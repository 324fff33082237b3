"""The standard's lines as every sheet is compared with them: centred, with widths, gaps and clear crossings."""

from dataclasses import dataclass, replace

import numpy as np

from proofkit.arrays import Floats, Index, Mask, Numbers, Plane, Points
from proofkit.laying.types import Laying, to_sheet_px
from proofkit.lines.crossing_kernels import read_and_analyse
from proofkit.lines.crossings import (
    GROUND_STRIP_MM,
    GROUND_STRIP_SHARE,
    CrossingValues,
    Spans,
    crossing_values,
    expectations,
    gap_leak,
)
from proofkit.lines.nearness_kernels import crossing_clearance, crossing_skew, parallel_neighbours
from proofkit.lines.profiles import REACH_MM, STEP_FRACTION, Profiles, read_profiles, surface_of
from proofkit.lines.types import LineMap
from proofkit.reflectance.types import Paper

CHUNK = 4096
"""Profiles analysed at a time: a few MB of working memory."""

STRIP_MARGIN_MM = 0.1
"""A profile reaches so far beyond its span and the search: half a strip of ground, and a line off its centre. [mm]"""

NEIGHBOUR_REACH_MM = 1.0
"""Lines further apart than this stand alone. [mm]"""

CLEAR_REACH_MM = 0.5
"""Lines crossing further away than this cannot touch a profile. [mm]"""

PARALLEL_SINE = 0.42
"""Lines within 25 degrees count as running side by side, others as crossing (choice of ours)."""

FIRST_WIDTH_MM = 0.09
"""Width assumed before the first reading. [mm]"""

CLEAR_SIGMAS = 0.75
"""A crossing is clear when the edge of the nearest line over it is this many blur sigmas away. So little is enough:
the tail of a line that crosses darkens line and ground of a profile by the same factor, which drops out of R/Rg
(exactly so at right angles, since a product of two bars blurs to the product of the blurred bars)."""

BROAD_SIGMAS = 4.0
"""From this width on the half-depth width is right to 3 % (error function, closed form)."""

USUAL_DEPTH = 0.93
"""1 - R/Rg of a solid line when the plate has no broad one: density 1.15, the low end of dried black (common
practice). [-]"""

GROUND_CLEAR_SIGMAS = 3.2
"""Ground beside a line that stands alone is read beyond this many blur sigmas from its edge."""


@dataclass(frozen=True, slots=True, eq=False)
class CrossingPlaces:
    """Where profiles are read, and what is expected on them. All arrays run over the crossings."""

    points_mm: Points
    """(n, 2) expected centres. [mm]"""
    across_mm: Points
    """(n, 2) direction of the profiles, as in `StandardLines`. [mm]"""
    spans: Spans


@dataclass(frozen=True, slots=True, eq=False)
class StandardLines:
    """Lines of the standard with what a crossing needs to be read on any sheet. All arrays run over the points."""

    lines: LineMap
    spans: Spans
    across_mm: Points
    """(n, 2) what one millimetre across the line is along the profile, in plate mm: the unit normal, leaning so as to
    run beside the lines that cross."""
    clear: Mask
    """(n,) crossings with no other line over them."""
    apart_mm: Floats
    """(n,) from the profile to the edge of the nearest line beside it; infinite for none. [mm]"""
    load_um: Floats
    """(n,) load of the crossing on the standard itself, smoothed along the line. [µm]"""
    spacing_mm: Floats
    """(n,) mean distance of parallel neighbours; infinite for none. [mm]"""

    @property
    def places(self) -> CrossingPlaces:
        """Where all of them are read."""
        return CrossingPlaces(self.lines.points_mm, self.across_mm, self.spans)


def _on_the_sheet(laying: Laying, points_mm: Points, across_mm: Points) -> tuple[Points, Points, float]:
    """Return centres [px], what one millimetre across is there [px/mm], and about how many px a mm has."""
    h = 0.2
    per_mm = float(np.sqrt(abs(np.linalg.det(laying.affine[:, :2]))))
    ends = to_sheet_px(laying, np.concatenate((points_mm + h * across_mm, points_mm - h * across_mm)))
    ahead, behind = ends[: len(points_mm)], ends[len(points_mm) :]
    return to_sheet_px(laying, points_mm), (ahead - behind) / (2 * h), per_mm


def line_profiles(
    plane: Plane,
    paper: Paper,
    laying: Laying,
    points_mm: Points,
    across_mm: Points,
    half_mm: float = REACH_MM,
) -> Profiles:
    """Return profiles of half length `half_mm` through plate points; `across_mm` is as in `StandardLines`."""
    return read_profiles(plane, paper, *_on_the_sheet(laying, points_mm, across_mm), half_mm)


def part_of(places: CrossingPlaces, index: slice | Index | Mask) -> CrossingPlaces:
    """Return some of the places."""
    spans = Spans(
        places.spans.width_mm[index],
        places.spans.left_mm[index],
        places.spans.right_mm[index],
        places.spans.gap_left_mm[index],
        places.spans.gap_right_mm[index],
    )
    return CrossingPlaces(places.points_mm[index], places.across_mm[index], spans)


def read_crossings(
    plane: Plane,
    paper: Paper,
    laying: Laying,
    places: CrossingPlaces,
    blur_mm: float,
    reach_mm: Floats,
) -> CrossingValues:
    """Return what all crossings say on a laid sheet, a chunk at a time.

    Parameters
    ----------
    plane, paper, laying
        The sheet.
    places : CrossingPlaces
        The n crossings.
    blur_mm : float
        Of this scan. [mm]
    reach_mm : Floats
        (n,) how far from the expected centre a line may lie. [mm]
    """
    parts = []
    for start in range(0, max(len(places.points_mm), 1), CHUNK):
        cut = slice(start, start + CHUNK)
        part = part_of(places, cut)
        centres, across, per_mm = _on_the_sheet(laying, part.points_mm, part.across_mm)
        step_mm = STEP_FRACTION / per_mm
        # No longer than the span, the search and the strip of ground need.
        half = np.maximum(part.spans.left_mm, part.spans.right_mm) + reach_mm[cut] + STRIP_MARGIN_MM
        halves = np.ceil(np.minimum(half, REACH_MM) / step_mm)
        expected = expectations(part.spans, blur_mm, reach_mm[cut])
        parts.append(
            read_and_analyse(plane, centres, across * step_mm, halves, step_mm, *surface_of(paper), expected)
        )
    return crossing_values(np.concatenate(parts))


def smooth_along(values: Floats, line: Numbers, half_width: int) -> Floats:
    """Return the running median of each line's values over ``2 half_width + 1`` points.

    Parameters
    ----------
    values : Floats
        (n,) values; NaN are passed over.
    line : (n,) int
        Number of the line of each point; the points of a line follow each other.
    half_width : int
        Points to each side. At the ends of a line fewer are taken.
    """
    n = len(values)
    index = np.arange(n)
    reach = np.arange(-half_width, half_width + 1)
    at = np.clip(index[:, None] + reach[None, :], 0, max(n - 1, 0))
    same = line[at] == line[:, None]
    window = np.where(same, values[at], np.nan)
    known = np.isfinite(window).any(axis=1)
    result = np.full(n, np.nan)
    result[known] = np.nanmedian(window[known], axis=1)
    return result


@dataclass(frozen=True, slots=True, eq=False)
class _Surroundings:
    """What stands beside each point."""

    spans: Spans
    across_mm: Points
    apart_mm: Floats
    spacing_mm: Floats


def _surroundings(lines: LineMap, width_mm: Floats, blur_mm: float, skirt_mm: Floats) -> _Surroundings:
    """Return spans, direction of profiles and distances of lines of known width.

    `skirt_mm` (n,) is how far the burr of a line reaches; its ground lies beyond. [mm]
    """
    x, y = lines.points_mm[:, 0].copy(), lines.points_mm[:, 1].copy()
    nx, ny = lines.normals[:, 0].copy(), lines.normals[:, 1].copy()
    side, side_point = parallel_neighbours(x, y, nx, ny, lines.line, 0.25, NEIGHBOUR_REACH_MM, PARALLEL_SINE)
    other = np.where(side_point >= 0, width_mm[np.maximum(side_point, 0)], 0.0)
    gap = np.where(np.isfinite(side), side - (width_mm[:, None] + other) / 2, np.inf)
    gap = np.maximum(gap, 0.01)
    alone = np.maximum(width_mm / 2 + GROUND_CLEAR_SIGMAS * blur_mm + 0.04, skirt_mm)
    middle = np.minimum(width_mm[:, None] / 2 + gap / 2, alone[:, None])
    # Where the strip of clear ground is nearer than the middle of the gap, the neighbour's blur does not reach it.
    gap = np.where(middle < alone[:, None], gap, np.inf)
    spans = Spans(width_mm, middle[:, 0], middle[:, 1], gap[:, 0], gap[:, 1])
    skew = crossing_skew(x, y, nx, ny, 0.25, CLEAR_REACH_MM, PARALLEL_SINE)
    clear_by, crossed = crossing_clearance(
        x, y, nx, ny, skew, spans.left_mm, spans.right_mm, 0.25, CLEAR_REACH_MM, PARALLEL_SINE
    )
    crossing_half = np.where(crossed >= 0, width_mm[np.maximum(crossed, 0)], 0.0) / 2
    both = np.where(np.isfinite(side), side, np.nan)
    few = np.isfinite(both).any(axis=1)
    spacing = np.full(len(x), np.inf)
    spacing[few] = np.nanmean(both[few], axis=1)
    across = lines.normals + skew[:, None] * np.column_stack((ny, -nx))
    return _Surroundings(spans, across, clear_by - crossing_half, spacing)


def _sharp_width_mm(values: CrossingValues, spans: Spans, spacing_mm: Floats, blur_mm: float) -> Floats:
    """Return the width of the lines before the scan's blur. [mm]

    The half-depth width of a blurred line is right to 3 % from 4 blur sigmas on; a finer one reads too wide (by a
    third at 2 sigmas), but its load is right, so its width is its load over the depth d of the plate's solid lines.

    In hatching so fine that the gaps are darkened too, the load against the ground seen, q, is too low. The mean
    over a period p and the middle of the gap are both known for a width w: ``1 - q/p = (1 - w d / p) / (1 - d
    leak(p - w))``. The right side falls steadily with w, so w is found by halving.
    """
    width = values.width_um / 1000
    broad = width > BROAD_SIGMAS * blur_mm
    solid = float(np.nanpercentile(values.depth[broad], 75)) if np.count_nonzero(broad) > 50 else USUAL_DEPTH
    seen = values.load_um / 1000
    alone = np.minimum(seen / solid, width)
    hatched = np.isfinite(spacing_mm) & (spacing_mm < spans.left_mm + spans.right_mm + 4 * blur_mm)
    period = np.where(hatched, spacing_mm, 1.0)
    low, high = np.zeros(len(seen)), 0.9 * period
    for _ in range(20):
        w = (low + high) / 2
        strip = np.minimum(GROUND_STRIP_MM, GROUND_STRIP_SHARE * (period - w))
        leak = gap_leak(period - w, strip, blur_mm)
        # What the load against the seen ground would be for this width, over the whole period.
        expected = period * (1 - (1 - w * solid / period) / np.maximum(1 - solid * leak, 1e-3))
        low, high = np.where(expected < seen, w, low), np.where(expected < seen, high, w)
    return np.where(broad, width, np.where(hatched, (low + high) / 2, alone))


def standard_lines(
    plane: Plane, paper: Paper, laying: Laying, lines: LineMap, blur_mm: float, skirt_mm: Floats
) -> StandardLines:
    """Return the standard's lines centred on their own ink, with widths and gaps.

    Parameters
    ----------
    plane, paper, laying
        The standard's scan.
    lines : LineMap
    blur_mm : float
        Of the scan. [mm]
    skirt_mm : Floats
        (n,) how far from each line its ground may be read at the earliest: 0, or the reach of drypoint burr. [mm]

    Notes
    -----
    Widths and gaps depend on each other (the ground of a crossing lies in the middle of its gaps), so they are
    read twice.
    """
    width = np.full(lines.size, FIRST_WIDTH_MM)
    for _ in range(2):
        near = _surroundings(lines, width, blur_mm, skirt_mm)
        reach = np.minimum(0.08, 0.3 * near.spacing_mm)
        at = CrossingPlaces(lines.points_mm, near.across_mm, near.spans)
        values = read_crossings(plane, paper, laying, at, 0.0, reach)
        clear = near.apart_mm > CLEAR_SIGMAS * blur_mm
        sure = clear & (values.depth > 0.05) & (values.width_um > 10) & (values.width_um < 900)
        sharp = _sharp_width_mm(values, near.spans, near.spacing_mm, blur_mm)
        read = smooth_along(np.where(sure, sharp, np.nan), lines.line, 7)
        width = np.clip(np.where(np.isfinite(read), read, width), 0.02, 0.9)
        move = smooth_along(np.where(sure, values.offset_mm, np.nan), lines.line, 3)
        move = np.clip(np.nan_to_num(move), -0.05, 0.05)
        lines = replace(lines, points_mm=lines.points_mm + move[:, None] * lines.normals)
    near = _surroundings(lines, width, blur_mm, skirt_mm)
    clear = near.apart_mm > CLEAR_SIGMAS * blur_mm
    reach = np.minimum(0.04, 0.25 * near.spacing_mm)
    at = CrossingPlaces(lines.points_mm, near.across_mm, near.spans)
    values = read_crossings(plane, paper, laying, at, blur_mm, reach)
    load = smooth_along(np.where(clear, values.load_um, np.nan), lines.line, 5)
    load = np.where(np.isfinite(load), load, np.nanmedian(load) if np.isfinite(load).any() else 0.0)
    return StandardLines(lines, near.spans, near.across_mm, clear, near.apart_mm, load, near.spacing_mm)


def lines_of_known_width(lines: LineMap, width_mm: Floats, blur_mm: float, load_um: Floats) -> StandardLines:
    """Return lines that were found on several sheets as one set, with the gaps they leave between each other.

    Parameters
    ----------
    lines : LineMap
        Lines of all the sheets, in one plate frame.
    width_mm : Floats
        (n,) width of the line at each point. [mm]
    blur_mm : float
        Of the most blurred sheet that will be read. [mm]
    load_um : Floats
        (n,) load at each point on the sheet where its line was found. [µm]
    """
    near = _surroundings(lines, width_mm, blur_mm, np.zeros(lines.size))
    clear = near.apart_mm > CLEAR_SIGMAS * blur_mm
    return StandardLines(lines, near.spans, near.across_mm, clear, near.apart_mm, load_um, near.spacing_mm)
