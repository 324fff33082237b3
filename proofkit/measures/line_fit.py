"""Lines and their neighbours fitted through the blur of the scan: width, depth and ground of every crossing."""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Mask
from proofkit.laying.standard_lines import StandardLines, smooth_along
from proofkit.lines.crossings import TEN_NINETY_SIGMAS
from proofkit.measures.chosen import MOST_FITTED
from proofkit.measures.fit_kernels import PARAMETERS, fit_crossings
from proofkit.measures.fit_places import FitPlaces, fit_places, pixel_mm
from proofkit.measures.types import LaidSheet, RegionRecord
from proofkit.scatter import robust_sd

GROUND, CENTRE, WIDTH, DEPTH, BLUR = range(PARAMETERS)


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

DEPTH_SPREAD = 0.03
"""How far the depth of a line strays from that of the sheet's broad lines (choice of ours): a line of two blur sigmas
and less does not tell it, and its load hardly depends on it. [-]"""


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
    """Share of what is known of the depth that comes from the broad lines, not from this line itself. [-]"""
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


def fit_sheet(sheet: LaidSheet, lines: StandardLines, chosen: Mask, drypoint: Mask) -> LineFits:
    """Return the fits of crossings of a sheet.

    Parameters
    ----------
    sheet : LaidSheet
    lines : StandardLines
    chosen : Mask
        (n,) crossings to fit.
    drypoint : Mask
        (n,) lines whose burr prints a skirt: they are fitted against the skirt close by.

    Notes
    -----
    The reflectance across a line is modelled as ``G (1 - d B)``: ground G, depth d, and B the sum of the line's bar and
    of its neighbours' bars, blurred. Neighbours keep the standard's distances and relative widths. Pixels enter as they
    are, at their own distance from the line: interpolated profiles lose 3 % of the contrast of five pixel hatching.

    First the blur is fitted on lines at least four blur sigmas wide, together with all else; its median then serves all
    lines. Depth is held near that of the broad lines by a prior of `DEPTH_SPREAD`, since a line of about the blur's
    width shows only the product of width and depth.
    """
    broad = fit_broad(sheet, lines, drypoint)
    noise = sheet.paper.noise if np.isfinite(sheet.paper.noise) else USUAL_NOISE
    used = np.flatnonzero(chosen)
    places = fit_places(sheet, lines, used, broad.blur_mm, drypoint)
    start = _start(lines, used, broad.blur_mm, broad.depth)
    found = _fit(sheet, places, start, (1, 1, 1, 1, 0), noise / DEPTH_SPREAD)

    def placed(column: int) -> Floats:
        every = np.full(lines.lines.size, np.nan)
        every[used] = found[:, column]
        return every

    return LineFits(
        ground=placed(GROUND),
        offset_mm=placed(CENTRE),
        width_um=placed(WIDTH) * 1000,
        depth=placed(DEPTH),
        held=placed(PARAMETERS + 2),
        chosen=chosen,
        hatched=np.isfinite(lines.spans.gap_left_mm) | np.isfinite(lines.spans.gap_right_mm),
        broad=broad,
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
    start = _start(lines, index, sheet.blur_mm, USUAL_DEPTH)
    places = fit_places(sheet, lines, index, sheet.blur_mm, drypoint)
    found = _fit(sheet, places, start, (1, 1, 1, 1, 1), 0.0)
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


def _start(lines: StandardLines, index: np.ndarray, blur_mm: float, depth: float) -> Floats:
    """Return the starting values of the fits, (n, 5)."""
    start = np.empty((len(index), PARAMETERS))
    start[:, GROUND] = 0.9
    start[:, CENTRE] = 0.0
    start[:, WIDTH] = lines.spans.width_mm[index]
    start[:, DEPTH] = depth
    start[:, BLUR] = blur_mm
    return start


def _fit(
    sheet: LaidSheet, places: FitPlaces, start: Floats, free: tuple[int, ...], depth_prior: float
) -> Floats:
    """Return the fits of some crossings, one row each; see `fit_crossings`."""
    # Fourth cumulant of a square pixel, -px^4 / 120 along its sides, averaged over all directions (3/4).
    excess = -0.75 * pixel_mm(sheet) ** 4 / 120 / float(start[0, BLUR]) ** 4 if len(start) else 0.0
    return fit_crossings(
        sheet.scan.plane,
        places.centres,
        places.across,
        places.along,
        places.level,
        places.window,
        places.neighbours,
        start,
        np.array(free, dtype=np.float64),
        places.half_along,
        ROUNDS,
        excess,
        depth_prior,
    )
