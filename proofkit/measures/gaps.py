"""Gaps of hatching: how open they are, and what ground they show."""

import numpy as np

from proofkit.arrays import Floats, Mask
from proofkit.lines.crossings import gap_leak
from proofkit.measures.film_cells import Gaps
from proofkit.measures.fit_places import half_along_mm
from proofkit.measures.line_work import CROSSINGS_MIN, RegionLines
from proofkit.measures.uncertainty import u_share
from proofkit.units import density

GROUND_APART_SIGMAS = 2.5
"""Gaps are read when they are this many blur sigmas wide."""

MIDWAY_SHARE, MIDWAY_MOST, MIDWAY_GAPS = 0.2, 0.3, 300
"""Of the gaps of cross-hatching the farthest from the lines that cross are read: the first share of them, or so many,
and the second share at most. What the blur of those lines leaves unexplained grows with it: gaps at the 75th percentile
read up to 0.009 D off (held-out plates), from the 90th on 0.003."""

MIDDLE_PERCENT = 99
"""A crossing farther from the lines that cross than so many others lies midway between them. Of 95 % half gaps came out
1 to 9 µm short on ruled patches, and films in gaps of 80 to 110 µm 0.003 D too light. [%]"""

CROSSED_SIGMAS = 4.0
"""Gaps of crossed hatching are read when they are this many blur sigmas wide: the blur of four lines meets in them. In
narrower ones films were up to 0.015 D off at 1200 ppi, 0.0015 from there on (ruled patches)."""


U_TAILS = 0.2
"""How well it is known what the blur of lines that cross adds to a gap, relative: drawn plates left a tenth to three
tenths of it. [-]"""


def open_gaps(region: RegionLines, ok: Mask) -> dict[str, float]:
    """Return how open the gaps of hatching are, by some of its crossings."""
    contrasts, values, row = region.record.gap_contrast[region.told], region.work.values, {}
    hatched = ok & np.isfinite(_narrower_gap(region))
    if hatched.sum() >= CROSSINGS_MIN:
        known = hatched & (contrasts > 0.02)
        if known.any():
            points = region.points[known]
            contrast = values.gap_reflectance[points] - values.core_reflectance[points]
            row["hatch_open_fraction"] = float(np.mean(contrast > 0.5 * contrasts[known]))
            row["u_hatch_open_fraction"] = u_share(row["hatch_open_fraction"], int(known.sum()))
    return row


def _narrower_gap(region: RegionLines) -> Floats:
    """Return the narrower of the gaps beside each crossing; infinite for none. [mm]"""
    spans = region.work.lines.spans
    return np.minimum(spans.gap_left_mm[region.points], spans.gap_right_mm[region.points])


def gap_ground(region: RegionLines) -> Gaps | None:
    """Return ground in the gaps of hatching, read midway between the lines that cross; None when there is little.

    The blur of the lines beside is taken off by the fits. The lines that cross the hatching darken the strip of pixels
    between them from both sides; how much, averaged over the strip, is what `gap_leak` says of gaps twice as wide as
    the way to each side. The way to the farther side is told by the crossings that lie midway.
    """
    work, lines, fits = region.work, region.work.lines, region.work.fits
    if not len(region.points):
        return None
    gap, ground = _narrower_gap(region), fits.ground[region.points]
    readable = region.clear & np.isfinite(ground) & np.isfinite(gap)
    readable &= gap > GROUND_APART_SIGMAS * fits.broad.blur_mm
    readable &= region.resolved
    if region.crossed_gap_mm < CROSSED_SIGMAS * fits.broad.blur_mm:
        return None
    if readable.sum() < CROSSINGS_MIN:
        return None
    apart_mm = region.apart_of_all_mm[region.told]
    apart = np.minimum(apart_mm, 1.0)
    share = max(MIDWAY_SHARE, min(MIDWAY_GAPS / int(readable.sum()), MIDWAY_MOST))
    midway = readable & (apart >= np.percentile(apart[readable], 100 * (1 - share)))
    depth = np.clip(region.depth[midway], 0, 0.98)
    nearer, strip = apart[midway], half_along_mm(apart_mm[midway], work.px_mm)
    farther = 2 * max(float(np.percentile(apart[readable], MIDDLE_PERCENT)), 1e-3) - nearer
    leak = sum(
        gap_leak(2 * np.maximum(way, nearer), strip, fits.broad.blur_mm) / 2 for way in (nearer, farther)
    )
    tail = np.clip(1 - leak * depth, 0.3, 1)
    by_tails = U_TAILS * float(density(np.median(tail)))
    return Gaps(lines.lines.points_mm[region.points[midway]], ground[midway] / tail, by_tails)
