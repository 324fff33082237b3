"""Compiled telling of how completely a mark shows between two corners, and how much of it beyond them."""

import numpy as np

from proofkit.arrays import Floats
from proofkit.scan.compiling import kernel
from proofkit.scatter import OF_MEDIAN


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
    scatter = OF_MEDIAN * np.median(np.abs(beyond - np.median(beyond)))
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
