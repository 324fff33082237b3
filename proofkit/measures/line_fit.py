"""Lines and their neighbours fitted through the blur of the scan: width, depth and ground of every crossing."""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Index, Mask, Numbers
from proofkit.laying.standard_lines import StandardLines, smooth_along
from proofkit.lines.crossings import TEN_NINETY_SIGMAS
from proofkit.measures.chosen import MOST_FITTED
from proofkit.measures.fit_kernels import LEANS, PARAMETERS, fit_crossings
from proofkit.measures.fit_places import FitPlaces, fit_places, part_of, pixel_mm
from proofkit.measures.line_depths import DEPTH_SPREAD, depths_together, kinds_of
from proofkit.measures.types import LaidSheet, RegionRecord
from proofkit.scatter import robust_sd
from proofkit.threads import each_in_order

GROUND, CENTRE, WIDTH, DEPTH, BLUR, LEFT, RIGHT, LEFT_SHARE, RIGHT_SHARE = range(PARAMETERS)
HELD, GROUND_BY_DEPTH, WIDTH_BY_DEPTH = range(PARAMETERS + 2, PARAMETERS + 2 + LEANS)

ROUNDS = 12
"""Most steps of a fit; four to six are usual."""

BLUR_SIGMAS = 4.0
"""The blur is read from lines this many blur sigmas wide: narrower ones trade it for width and depth."""

BLUR_LINES = 200
"""Fewest crossings that tell a blur."""

SHARPEST_PERCENT = 30
"""The scan's own blur is that of the sharper edges, as ink and wiping soften the others. [%]"""

ALONG_A_LINE = 7
"""Half length of the stretch along a line over which its edges' blur is averaged. [crossings]"""

USUAL_DEPTH = 0.93
"""1 - R/Rg of solid lines when a sheet has no broad one: density 1.15, dried black (common practice). [-]"""

FAR_DEPTH = 0.05
"""Lines that print so much paler or darker than the sheet's broad ones are fitted anew: what a fit leans by is told for
small steps. [-]"""

MOST_LEAN = 0.3
"""Widths lean by no more than this share: about what a depth off by a third means. [-]"""

APART_SIGMAS = 1.5
"""Crossings nearer than this to a line that crosses have no say in how dark lines are together. [blur sigmas]"""

PLACE_SPREAD_MM = 0.004
"""How far a neighbour's place on a sheet strays from where the standard seems to have it: in gaps of 3 blur sigmas the
standard's own reading is off by 2 to 3 µm (hatching laid by hand, drawn). [mm]"""

SHARE_SPREAD = 0.12
"""How far its width does, as a share of the line's own: hands and ragged edges move it by 5 to 10 %, and the standard's
reading is off by 10 % in such gaps."""

LOOSE_PX = 2.4
"""Neighbours stray on scans of up to this many blur sigmas a pixel; coarser ones have too few pixels between them."""

AT_ONCE = 2000
"""Crossings that are fitted together."""

HELD_DEPTH = (np.inf, np.inf, np.inf, DEPTH_SPREAD, 0.0)
FREE_BLUR = (np.inf, np.inf, np.inf, np.inf, np.inf)
"""How far ground, centre, width, depth and blur stray from their start: 0 not at all, infinite as they like."""

SOLID_PERCENT = 10
"""The solid tone of a plate is the core of its darkest tenth of broad lines. [%]"""

U_USUAL_BLUR = 0.1
"""Relative standard uncertainty of a blur that no line tells (common practice: optics of 16 to 20 µm). [-]"""

U_BLUR_MODEL = 0.005
"""... and of one that was fitted, for edges that no normal describes (choice of ours). [-]"""

USUAL_NOISE = 0.01
"""Noise of a pixel where the margin does not tell it. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class BroadLines:
    """What the broad lines of a sheet say of the scan and of the ink."""

    blur_mm: float
    """Standard deviation of the blur of a line's edges: optics, pixel, and the usual softness of ink. [mm]"""
    u_blur: float
    """Its relative standard uncertainty. [-]"""
    sharpest_mm: float
    """Of the sharper edges: the scan's own blur. [mm]"""
    depth: float
    """1 - R/Rg, median. [-]"""
    solid: float
    """R/Rp of solid ink: the darker lines; NaN when there are no broad ones. [-]"""
    softness_um: Floats
    """(n,) 10-90 % distance of the edges, blur included; NaN for lines that are not broad. [µm]"""


@dataclass(frozen=True, slots=True, eq=False)
class LineFits:
    """What the fits say of each crossing of the standard's lines; (n,), NaN where a crossing cannot be fitted."""

    ground: Floats
    """R/Rp of the ground beside the line, the lines' own blur taken off. [-]"""
    offset_mm: Floats
    """Centre of the line from where the laying expects it. [mm]"""
    width_um: Floats
    """Width of the line before blur. [µm]"""
    depth: Floats
    """1 - R/Rg of the line before blur. [-]"""
    held: Floats
    """Share of what is known of the depth that comes from other lines, not from this line itself. [-]"""
    u_depth: Floats
    """Standard uncertainty of the depth near which it is held. [-]"""
    chosen: Mask
    """The crossing was to be fitted."""
    hatched: Mask
    """The line has a neighbour so near that their blurs overlap."""
    broad: BroadLines
    """What the broad lines said beforehand."""

    @property
    def load_um(self) -> Floats:
        """Width times depth. [µm]"""
        return np.asarray(self.width_um * self.depth)


def drypoint_lines(records: tuple[RegionRecord, ...], lines: StandardLines) -> Mask:
    """Return which points lie in regions of drypoint."""
    found = np.zeros(lines.lines.size, dtype=np.bool_)
    for record in records:
        if record.region.work == "drypoint":
            found[record.points] = True
    return found


def region_numbers(records: tuple[RegionRecord, ...], lines: StandardLines) -> Numbers:
    """Return the number of the region of each point; -1 outside all, and in drypoint, whose burr is no bar."""
    found = np.full(lines.lines.size, -1, dtype=np.int32)
    for number, record in enumerate(records):
        if record.region.work != "drypoint":
            found[record.points] = number
    return found


def fit_sheet(
    sheet: LaidSheet, lines: StandardLines, chosen: Mask, drypoint: Mask, region: Numbers
) -> LineFits:
    """Return the fits of crossings of a sheet.

    Parameters
    ----------
    sheet : LaidSheet
    lines : StandardLines
    chosen : Mask
        (n,) crossings to fit.
    drypoint : Mask
        (n,) lines whose burr prints a skirt: they are fitted against the skirt close by.
    region : Numbers
        (n,) number of the region whose lines print alike, see `region_numbers`.

    Notes
    -----
    The reflectance across a line is modelled as ``G (1 - d B)``: ground G, depth d, and B the sum of the line's bar and
    of its neighbours' bars, blurred. Neighbours keep the standard's distances and relative widths. Pixels enter as they
    are, at their own distance from the line: interpolated profiles lose 3 % of the contrast of five pixel hatching.

    First the blur is fitted on lines at least four blur sigmas wide, together with all else; its median then serves all
    lines. Depth is held by a prior of `DEPTH_SPREAD`, since a line of about the blur's width shows only the product of
    width and depth: first near that of the broad lines, then near what all lines of its kind say together. Fine lines
    taken for as dark as broad ones are read too narrow, and the ground between them 0.001 to 0.008 D too dark.
    """
    broad = fit_broad(sheet, lines, drypoint)
    used = np.flatnonzero(chosen)
    places = fit_places(sheet, lines, used, broad.blur_mm, drypoint)
    start = _start(lines, used, places, broad.blur_mm, broad.depth)
    found = _fit(sheet, places, start, HELD_DEPTH)
    width_mm = lines.spans.width_mm[used]
    kind = kinds_of(region[used], width_mm)
    apart = lines.apart_mm[used] > APART_SIGMAS * broad.blur_mm
    near = depths_together(
        np.where(apart, found[:, DEPTH], np.nan),
        found[:, HELD],
        broad.depth,
        kind,
        width_mm,
        blur_mm=broad.blur_mm,
        u_blur=broad.u_blur,
    )
    far = np.flatnonzero(np.abs(near.depth - broad.depth) > FAR_DEPTH)
    _lean(found, near.depth - broad.depth)
    if len(far):
        start[far, DEPTH] = near.depth[far]
        found[far] = _fit(sheet, part_of(places, far), start[far], HELD_DEPTH)

    def placed(values: Floats) -> Floats:
        every = np.full(lines.lines.size, np.nan)
        every[used] = values
        return every

    return LineFits(
        ground=placed(found[:, GROUND]),
        offset_mm=placed(found[:, CENTRE]),
        width_um=placed(found[:, WIDTH]) * 1000,
        depth=placed(found[:, DEPTH]),
        held=placed(found[:, HELD]),
        u_depth=placed(near.u_depth),
        chosen=chosen,
        hatched=np.isfinite(lines.spans.gap_left_mm) | np.isfinite(lines.spans.gap_right_mm),
        broad=broad,
    )


def _lean(found: Floats, shift: Floats) -> None:
    """Move fits, (n, columns), to what they say where depths are held by `shift` (n,) more, in place."""
    found[:, DEPTH] += found[:, HELD] * shift
    found[:, GROUND] += found[:, GROUND_BY_DEPTH] * shift
    # Where next to nothing prints the width is at its bound and leans without limit.
    found[:, WIDTH] *= np.exp(
        np.clip(found[:, WIDTH_BY_DEPTH] / found[:, WIDTH] * shift, -MOST_LEAN, MOST_LEAN)
    )


def fit_broad(sheet: LaidSheet, lines: StandardLines, drypoint: Mask) -> BroadLines:
    """Return blur and solid ink of a sheet from its broad lines; what is usual where there are too few.

    Parameters are those of `fit_sheet`.
    """
    number = lines.lines.line
    softness = np.full(lines.lines.size, np.nan)
    usual = BroadLines(sheet.blur_mm, U_USUAL_BLUR, sheet.blur_mm, USUAL_DEPTH, float("nan"), softness)
    index = np.flatnonzero(lines.clear & ~drypoint & (lines.spans.width_mm > BLUR_SIGMAS * sheet.blur_mm))
    index = index[:: max(len(index) // MOST_FITTED, 1)]
    if len(index) < BLUR_LINES:
        return usual
    places = fit_places(sheet, lines, index, sheet.blur_mm, drypoint)
    start = _start(lines, index, places, sheet.blur_mm, USUAL_DEPTH)
    found = _fit(sheet, places, start, FREE_BLUR)
    blurs = smooth_along(found[:, BLUR], number[index], ALONG_A_LINE)
    solids = smooth_along(found[:, GROUND] * (1 - found[:, DEPTH]), number[index], ALONG_A_LINE)
    known = np.isfinite(blurs)
    if known.sum() < BLUR_LINES:
        return usual
    blur = float(np.median(blurs[known]))
    spread = robust_sd(blurs[known] / blur, about=1)
    stretches = max(known.sum() / (2 * ALONG_A_LINE + 1), 2.0)
    softness[index] = TEN_NINETY_SIGMAS * 1000 * found[:, BLUR]
    return BroadLines(
        blur_mm=blur,
        u_blur=float(np.hypot(1.253 * spread / np.sqrt(stretches), U_BLUR_MODEL)),
        sharpest_mm=float(np.percentile(blurs[known], SHARPEST_PERCENT)),
        depth=float(np.clip(np.nanmedian(found[:, DEPTH]), 0.3, 0.99)),
        solid=float(np.percentile(solids[known], SOLID_PERCENT)),
        softness_um=softness,
    )


def _start(lines: StandardLines, index: Index, places: FitPlaces, blur_mm: float, depth: float) -> Floats:
    """Return the starting values of the fits, (n, PARAMETERS)."""
    start = np.empty((len(index), PARAMETERS))
    start[:, GROUND] = 0.9
    start[:, CENTRE] = 0.0
    start[:, WIDTH] = lines.spans.width_mm[index]
    start[:, DEPTH] = depth
    start[:, BLUR] = blur_mm
    start[:, LEFT:] = places.neighbours
    return start


def _fit(sheet: LaidSheet, places: FitPlaces, start: Floats, strays: tuple[float, ...]) -> Floats:
    """Return the fits of some crossings, one row each; see `fit_crossings`.

    `strays` says how far the parameters of the line itself may stray from their start, see `HELD_DEPTH`; neighbours
    stray as `LOOSE_PX` says.
    """
    loose = start[0, BLUR] * LOOSE_PX > pixel_mm(sheet) if len(start) else False
    beside = (PLACE_SPREAD_MM, PLACE_SPREAD_MM, SHARE_SPREAD, SHARE_SPREAD) if loose else (0.0,) * 4
    spread = np.array((*strays, *beside))
    noise = sheet.paper.noise if np.isfinite(sheet.paper.noise) else USUAL_NOISE
    # Fourth cumulant of a square pixel, -px^4 / 120 along its sides, averaged over all directions (3/4).
    excess = -0.75 * pixel_mm(sheet) ** 4 / 120 / float(start[0, BLUR]) ** 4 if len(start) else 0.0
    free = (spread > 0).astype(np.float64)
    held = np.where(spread > 0, noise / np.where(spread > 0, spread, 1.0), 0.0)

    def fitted(first: int) -> Floats:
        some = slice(first, first + AT_ONCE)
        of = part_of(places, some)
        return fit_crossings(
            sheet.scan.plane, of.centres, of.across, of.along, of.level, of.window, start[some], free, held,
            of.half_along, ROUNDS, excess,
        )  # fmt: skip

    return np.concatenate(each_in_order(fitted, range(0, max(len(start), 1), AT_ONCE)))
