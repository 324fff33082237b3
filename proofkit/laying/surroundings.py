"""What stands beside the standard's lines, and how wide they are before the scan's blur."""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Points
from proofkit.lines.crossings import GROUND_STRIP_MM, GROUND_STRIP_SHARE, CrossingValues, Spans, gap_leak
from proofkit.lines.nearness_kernels import crossing_clearance, crossing_skew, parallel_neighbours
from proofkit.lines.types import LineMap
from proofkit.threads import each_in_order

NEIGHBOUR_REACH_MM = 1.0
"""Lines further apart than this stand alone. [mm]"""

CLEAR_REACH_MM = 0.5
"""Lines crossing further away than this cannot touch a profile. [mm]"""

PARALLEL_SINE = 0.42
"""Lines within 25 degrees count as running side by side, others as crossing (choice of ours)."""

BROAD_SIGMAS = 4.0
"""From this width on the half-depth width is right to 3 % (error function, closed form)."""

USUAL_DEPTH = 0.93
"""1 - R/Rg of a solid line when the plate has no broad one: density 1.15, the low end of dried black (common
practice). [-]"""

GROUND_CLEAR_SIGMAS = 3.2
"""Ground beside a line that stands alone is read beyond this many blur sigmas from its edge."""


HALVINGS = 20
"""Halvings by which a width in hatching is found: to a millionth of its period."""

CHUNK = 8192
"""Points worked on at a time: what is worked with stays in the processor's cache."""


@dataclass(frozen=True, slots=True, eq=False)
class Surroundings:
    """What stands beside each point."""

    spans: Spans
    across_mm: Points
    apart_mm: Floats
    spacing_mm: Floats


def surroundings_of(lines: LineMap, width_mm: Floats, blur_mm: float, skirt_mm: Floats) -> Surroundings:
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
    return Surroundings(spans, across, clear_by - crossing_half, spacing)


def sharp_width_mm(values: CrossingValues, spans: Spans, spacing_mm: Floats, blur_mm: float) -> Floats:
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
    widths = np.empty(len(seen))

    def halved(start: int) -> None:
        cut = slice(start, start + CHUNK)
        widths[cut] = _width_in_hatching(seen[cut], period[cut], solid, blur_mm)

    each_in_order(halved, range(0, len(seen), CHUNK))
    return np.where(broad, width, np.where(hatched, widths, alone))


def _width_in_hatching(load_mm: Floats, period_mm: Floats, solid: float, blur_mm: float) -> Floats:
    """Return the width of lines of depth `solid` that show a load in hatching of a period, see `sharp_width_mm`."""
    low, high = np.zeros(len(load_mm)), 0.9 * period_mm
    for _ in range(HALVINGS):
        w = (low + high) / 2
        strip = np.minimum(GROUND_STRIP_MM, GROUND_STRIP_SHARE * (period_mm - w))
        leak = gap_leak(period_mm - w, strip, blur_mm)
        # What the load against the seen ground would be for this width, over the whole period.
        expected = period_mm * (1 - (1 - w * solid / period_mm) / np.maximum(1 - solid * leak, 1e-3))
        low, high = np.where(expected < load_mm, w, low), np.where(expected < load_mm, high, w)
    return (low + high) / 2
