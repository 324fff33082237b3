"""Compiled telling of how completely a mark shows between two corners, and how much of it beyond them."""

import numpy as np

from proofkit.arrays import Floats
from proofkit.frame.medians import median
from proofkit.scan.compiling import kernel
from proofkit.scatter import OF_MEDIAN

BLOCKS = 12
"""Blocks of an edge in each of which the mark must show."""
PRESENT = 0.35
"""A block shows the mark when its mean share is above this. [-]"""
BEYOND_MM = 0.6
"""Beyond a corner the mark must have stopped at this, [mm]"""
REACHES_MM = (2.4, 6.0)
"""seen to the first and to the second of these. [mm]"""


@kernel
def meeting(
    horizontal: tuple[float, float, float, float], vertical: tuple[float, float, float, float]
) -> tuple[float, float]:
    """Return where a nearly horizontal line meets a nearly vertical one, x and y. [px]

    Lines are middle, place, slope and bend of a `Line`. Each is put into the other in turn; with slopes below 0.06
    every turn gains more than two digits.
    """
    x, y = vertical[1], horizontal[1]
    for turn in range(13):
        d = x - horizontal[0]
        y = horizontal[1] + horizontal[2] * d + horizontal[3] * d * d
        if turn < 12:
            d = y - vertical[0]
            x = vertical[1] + vertical[2] * d + vertical[3] * d * d
    return x, y


@kernel
def best_run(centres: Floats, share: Floats) -> tuple[float, float]:
    """Return the stretch along which a mark shows: the best run of shares (n,) above a half, cut to -0.5 and 1.2. [px]

    `centres` (n,) are the middles of evenly spaced pieces; nothing shows where shares are NaN.
    """
    total, lowest, from_here = 0.0, 0.0, 0
    most, start, end = 0.0, 0, 0
    for k in range(share.size):
        if not np.isnan(share[k]):
            total += min(max(share[k], -0.5), 1.2) - 0.5
        if total - lowest > most:
            most, start, end = total - lowest, from_here, k + 1
        if total < lowest:
            lowest, from_here = total, k + 1
    half = 0.5 * (centres[1] - centres[0])
    return centres[start] - half, centres[max(end - 1, 0)] + half


@kernel
def evidence(
    share: Floats, centres: Floats, ends: tuple[float, float], px_per_mm: float
) -> tuple[float, float]:
    """Return the part of the blocks between the ends that show the mark, and the share beyond the ends.

    `share` and `centres` (n,) are of pieces along the edge. [-], [px]
    """
    trim = 0.02 * (ends[1] - ends[0])
    limits = np.linspace(ends[0] + trim, ends[1] - trim, BLOCKS + 1)
    off_mm = np.maximum(ends[0] - centres, centres - ends[1]) / px_per_mm
    return part_shown(share, centres, limits, PRESENT), share_beyond(share, off_mm, BEYOND_MM, REACHES_MM)


@kernel
def part_shown(share: Floats, centres: Floats, limits: Floats, present: float) -> float:
    """Return the part of the blocks between `limits` whose pieces show the mark, `present` or more on average.

    `share` and `centres` (n,) are of pieces along the edge, NaN where they were not read; a block without any shows
    nothing.
    """
    blocks = limits.size - 1
    total, many = np.zeros(blocks), np.zeros(blocks)
    for k in range(share.size):
        if np.isnan(share[k]):
            continue
        block = np.searchsorted(limits, centres[k], side="right") - 1
        if 0 <= block < blocks:
            total[block] += share[k]
            many[block] += 1.0
    shown = 0
    for block in range(blocks):
        shown += total[block] > present * max(many[block], 1.0)
    return shown / blocks


@kernel
def share_beyond(share: Floats, off_mm: Floats, nearest: float, reaches: tuple[float, ...]) -> float:
    """Return the share of the mark beyond its corners: the greatest mean within one of `reaches` from `nearest` on.

    `off_mm` (n,) is how far each piece lies beyond; means are of shares cut to -1 and 1, less twice their standard
    error, 0 at least.
    """
    beyond = np.empty(share.size)
    many = 0
    for k in range(share.size):
        if off_mm[k] > nearest and not np.isnan(share[k]):
            beyond[many] = share[k]
            many += 1
    if not many:
        return 0.0
    beyond = beyond[:many]
    scatter = OF_MEDIAN * median(np.abs(beyond - median(beyond)))
    greatest = 0.0
    for reach in reaches:
        total, count = 0.0, 0
        for k in range(share.size):
            if nearest < off_mm[k] < reach and not np.isnan(share[k]):
                total += min(max(share[k], -1.0), 1.0)
                count += 1
        if count:
            greatest = max(greatest, total / count - 2.0 * scatter / np.sqrt(count))
    return greatest
