"""What the broad lines of a sheet say of its scan and its ink: the blur, and how dark solid ink is."""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Mask, Placed, placed_at, slots_of
from proofkit.laying.standard_lines import StandardLines, smooth_along
from proofkit.lines.crossings import TEN_NINETY_SIGMAS
from proofkit.measures.chosen import MOST_FITTED
from proofkit.measures.fit_kernels import PARAMETERS
from proofkit.measures.fit_places import fit_places, part_of
from proofkit.measures.line_model import (
    BLUR,
    DEPTH,
    FIXED,
    FREE_BLUR,
    GROUND,
    WIDTH,
    beside_on,
    fit_at,
    start_of,
)
from proofkit.measures.types import LaidSheet
from proofkit.scatter import MEDIAN_FACTOR, robust_sd

BLUR_SIGMAS = 4.0
"""The blur is read from lines this many blur sigmas wide: narrower ones trade it for width and depth."""

BLUR_GAP_SIGMAS = 2.0
"""... and from lines with so much ground beside them: what seems broad where gaps are all but shut is close work."""

BLUR_LINES = 60
"""Fewest crossings that tell a blur: some four stretches of `ALONG_A_LINE` to both sides."""

BLUR_AGAIN = 1.02
"""Neighbours that stray take 0.5 to 2.5 % from the blur of broad lines, and up to 15 % where all lie close together."""

SHARPEST_PERCENT = 30
"""The scan's own blur is that of the sharper edges, as ink and wiping soften the others. [%]"""

ALONG_A_LINE = 7
"""Half length of the stretch along a line over which its edges' blur is averaged. [crossings]"""

USUAL_DEPTH = 0.93
"""1 - R/Rg of solid lines when a sheet has no broad one: density 1.15, dried black (common practice). [-]"""

SOLID_PERCENT = 10
"""The solid tone of a plate is the core of its darkest tenth of broad lines. [%]"""

U_USUAL_BLUR = 0.1
"""Relative standard uncertainty of a blur that no line tells (common practice: optics of 16 to 20 µm). [-]"""

U_BLUR_MODEL = 0.005
"""... and of one that was fitted, for edges that no normal describes (choice of ours). [-]"""


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
    softness_um: Placed
    """(n,) 10-90 % distance of the edges, blur included; NaN for lines that are not broad. [µm]"""


def fit_broad(sheet: LaidSheet, lines: StandardLines, drypoint: Mask) -> BroadLines:
    """Return blur and solid ink of a sheet from its broad lines; what is usual where there are too few.

    Parameters are those of `fit_sheet`.
    """
    number = lines.lines.line
    none = placed_at(slots_of(np.empty(0, np.intp), lines.lines.size), np.empty(0))
    usual = BroadLines(sheet.blur_mm, U_USUAL_BLUR, sheet.blur_mm, USUAL_DEPTH, float("nan"), none)
    gap = np.minimum(lines.spans.gap_left_mm, lines.spans.gap_right_mm)
    broad = (lines.spans.width_mm > BLUR_SIGMAS * sheet.blur_mm) & (gap > BLUR_GAP_SIGMAS * sheet.blur_mm)
    index = np.flatnonzero(lines.clear & ~drypoint & broad)
    index = index[:: max(len(index) // MOST_FITTED, 1)]
    if len(index) < BLUR_LINES:
        return usual
    places = fit_places(sheet, lines, index, sheet.blur_mm, drypoint)
    start = start_of(lines, index, places, sheet.blur_mm, USUAL_DEPTH)
    found = fit_at(sheet, places, start, FREE_BLUR + FIXED)
    wide = np.flatnonzero(found[:, WIDTH] > BLUR_SIGMAS * np.nanmedian(found[:, BLUR]))
    if len(wide) >= BLUR_LINES:
        places, start = part_of(places, wide), found[wide, :PARAMETERS]
        start[:, BLUR] = np.median(start[:, BLUR])
        again = fit_at(sheet, places, start, FREE_BLUR + beside_on(sheet, sheet.blur_mm))
        # Neighbours in wrong places only blur. Where it is the other way, close work passes for broad lines.
        if np.nanmedian(again[:, BLUR]) < BLUR_AGAIN * np.nanmedian(found[:, BLUR]):
            index, found = index[wide], again
    blurs = smooth_along(found[:, BLUR], number[index], ALONG_A_LINE)
    solids = smooth_along(found[:, GROUND] * (1 - found[:, DEPTH]), number[index], ALONG_A_LINE)
    known = np.isfinite(blurs)
    if known.sum() < BLUR_LINES:
        return usual
    blur = float(np.median(blurs[known]))
    spread = robust_sd(blurs[known] / blur, about=1)
    stretches = max(known.sum() / (2 * ALONG_A_LINE + 1), 2.0)
    return BroadLines(
        blur_mm=blur,
        u_blur=float(np.hypot(MEDIAN_FACTOR * spread / np.sqrt(stretches), U_BLUR_MODEL)),
        sharpest_mm=float(np.percentile(blurs[known], SHARPEST_PERCENT)),
        depth=float(np.clip(np.nanmedian(found[:, DEPTH]), 0.3, 0.99)),
        solid=float(np.percentile(solids[known], SOLID_PERCENT)),
        softness_um=placed_at(slots_of(index, lines.lines.size), TEN_NINETY_SIGMAS * 1000 * found[:, BLUR]),
    )
