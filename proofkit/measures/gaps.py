"""Gaps of hatching: how open they are, and what ground they show."""

import numpy as np

from proofkit.arrays import Mask
from proofkit.laying.standard_lines import StandardLines
from proofkit.lines.crossings import PlacedValues, gap_leak
from proofkit.measures.film_cells import Gaps
from proofkit.measures.fit_places import half_along_mm
from proofkit.measures.line_work import CROSSINGS_MIN, LineWork, crossed_gap_mm, resolved
from proofkit.measures.types import RegionRecord
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


def open_gaps(record: RegionRecord, lines: StandardLines, values: PlacedValues, ok: Mask) -> dict[str, float]:
    """Return how open the gaps of hatching are."""
    points = record.points
    gap = np.minimum(lines.spans.gap_left_mm[points], lines.spans.gap_right_mm[points])
    hatched = ok & np.isfinite(gap)
    row: dict[str, float] = {}
    if hatched.sum() >= CROSSINGS_MIN:
        contrast = values.gap_reflectance[points] - values.core_reflectance[points]
        known = hatched & (record.gap_contrast > 0.02)
        if known.any():
            row["hatch_open_fraction"] = float(np.mean(contrast[known] > 0.5 * record.gap_contrast[known]))
            row["u_hatch_open_fraction"] = u_share(row["hatch_open_fraction"], int(known.sum()))
    return row


def gap_ground(record: RegionRecord, work: LineWork) -> Gaps | None:
    """Return ground in the gaps of hatching, read midway between the lines that cross; None when there is little.

    The blur of the lines beside is taken off by the fits. The lines that cross the hatching darken the strip of pixels
    between them from both sides; how much, averaged over the strip, is what `gap_leak` says of gaps twice as wide as
    the way to each side. The way to the farther side is told by the crossings that lie midway.
    """
    points, lines, fits = record.points, work.lines, work.fits
    if not len(points):
        return None
    gap = np.minimum(lines.spans.gap_left_mm[points], lines.spans.gap_right_mm[points])
    readable = lines.clear[points] & np.isfinite(fits.ground[points]) & np.isfinite(gap)
    readable &= gap > GROUND_APART_SIGMAS * fits.broad.blur_mm
    readable &= resolved(record, work)
    if crossed_gap_mm(record, work) < CROSSED_SIGMAS * fits.broad.blur_mm:
        return None
    if readable.sum() < CROSSINGS_MIN:
        return None
    apart = np.minimum(lines.apart_mm[points], 1.0)
    share = max(MIDWAY_SHARE, min(MIDWAY_GAPS / int(readable.sum()), MIDWAY_MOST))
    midway = readable & (apart >= np.percentile(apart[readable], 100 * (1 - share)))
    depth = np.clip(fits.depth[points], 0, 0.98)
    nearer, strip = apart[midway], half_along_mm(lines.apart_mm[points][midway], work.px_mm)
    farther = 2 * max(float(np.percentile(apart[readable], MIDDLE_PERCENT)), 1e-3) - nearer
    leak = sum(
        gap_leak(2 * np.maximum(way, nearer), strip, fits.broad.blur_mm) / 2 for way in (nearer, farther)
    )
    tail = np.clip(1 - leak * depth[midway], 0.3, 1)
    by_tails = U_TAILS * float(density(np.median(tail)))
    return Gaps(lines.lines.points_mm[points][midway], fits.ground[points][midway] / tail, by_tails)
