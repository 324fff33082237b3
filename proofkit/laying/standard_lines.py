"""The standard's lines as every sheet is compared with them: centred, with widths, gaps and clear crossings."""

from dataclasses import dataclass, replace

import numpy as np

from proofkit.arrays import Floats, Index, Mask, Numbers, Plane, Points
from proofkit.laying.kernels import running_median
from proofkit.laying.surroundings import sharp_width_mm, surroundings_of
from proofkit.laying.types import Laying, to_sheet_px
from proofkit.lines.crossing_kernels import COLUMNS, read_and_analyse
from proofkit.lines.crossings import (
    CrossingValues,
    Spans,
    crossing_values,
    expectations,
)
from proofkit.lines.profiles import REACH_MM, STEP_FRACTION, Profiles, read_profiles, surface_of
from proofkit.lines.types import LineMap
from proofkit.reflectance.types import Paper
from proofkit.threads import each_in_order

CHUNK = 4096
"""Profiles analysed at a time: a few MB of working memory."""

STRIP_MARGIN_MM = 0.1
"""A profile reaches so far beyond its span and the search: half a strip of ground, and a line off its centre. [mm]"""

FIRST_WIDTH_MM = 0.09
"""Width assumed before the first reading. [mm]"""

CLEAR_SIGMAS = 0.75
"""A crossing is clear when the edge of the nearest line over it is this many blur sigmas away. So little is enough:
the tail of a line that crosses darkens line and ground of a profile by the same factor, which drops out of R/Rg
(exactly so at right angles, since a product of two bars blurs to the product of the blurred bars)."""


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
    per_mm = laying.px_per_mm
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
    surface = surface_of(paper)

    table = np.empty((len(COLUMNS), len(places.points_mm)))

    def read(start: int) -> None:
        cut = slice(start, start + CHUNK)
        part = part_of(places, cut)
        centres, across, per_mm = _on_the_sheet(laying, part.points_mm, part.across_mm)
        step_mm = STEP_FRACTION / per_mm
        # No longer than the span, the search and the strip of ground need.
        half = np.maximum(part.spans.left_mm, part.spans.right_mm) + reach_mm[cut] + STRIP_MARGIN_MM
        halves = np.ceil(np.minimum(half, REACH_MM) / step_mm)
        expected = expectations(part.spans, blur_mm, reach_mm[cut])
        found = read_and_analyse(plane, centres, across * step_mm, halves, step_mm, *surface, expected)
        table[:, cut] = found.T

    each_in_order(read, range(0, len(places.points_mm), CHUNK))
    return crossing_values(table.T)


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
    return np.asarray(running_median(np.ascontiguousarray(values, dtype=np.float64), line, half_width))


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
        near = surroundings_of(lines, width, blur_mm, skirt_mm)
        reach = np.minimum(0.08, 0.3 * near.spacing_mm)
        at = CrossingPlaces(lines.points_mm, near.across_mm, near.spans)
        values = read_crossings(plane, paper, laying, at, 0.0, reach)
        clear = near.apart_mm > CLEAR_SIGMAS * blur_mm
        sure = clear & (values.depth > 0.05) & (values.width_um > 10) & (values.width_um < 900)
        sharp = sharp_width_mm(values, near.spans, near.spacing_mm, blur_mm)
        read = smooth_along(np.where(sure, sharp, np.nan), lines.line, 7)
        width = np.clip(np.where(np.isfinite(read), read, width), 0.02, 0.9)
        move = smooth_along(np.where(sure, values.offset_mm, np.nan), lines.line, 3)
        move = np.clip(np.nan_to_num(move), -0.05, 0.05)
        lines = replace(lines, points_mm=lines.points_mm + move[:, None] * lines.normals)
    near = surroundings_of(lines, width, blur_mm, skirt_mm)
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
    near = surroundings_of(lines, width_mm, blur_mm, np.zeros(lines.size))
    clear = near.apart_mm > CLEAR_SIGMAS * blur_mm
    return StandardLines(lines, near.spans, near.across_mm, clear, near.apart_mm, load_um, near.spacing_mm)
