"""Compiled statistics of a region's cells: which are told, their order, their tone."""

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats, Mask, Numbers, Picture
from proofkit.scan.compiling import kernel

TOP_SHIFT = 16
"""Values are sorted by their upper 16 bits first; those of reflectances fall into some hundred classes."""


@kernel
def known_cells(picture: Picture, wanted: Mask) -> Picture:
    """Return the wanted cells of a picture that are not NaN, row by row. (n,)"""
    h, w = picture.shape
    many = 0
    for r in range(h):
        for c in range(w):
            many += wanted[r, c]
    out = np.empty(many + 1, dtype=np.float32)
    k = 0
    for r in range(h):
        for c in range(w):
            # Written without asking and kept when it counts: masks of line work would mislead a forecast of branches.
            out[k] = picture[r, c]
            k += wanted[r, c] and not np.isnan(picture[r, c])
    return out[:k]


@kernel
def _key(bits: np.uint32) -> np.uint32:
    """Return a whole number that grows as the 32 bit float of these bits does."""
    sign = np.uint32(0x80000000)
    return ~bits if bits & sign else bits | sign


@kernel
def _value(key: np.uint32, one: npt.NDArray[np.uint32]) -> np.float32:
    """Return the float of a key; `one` (1,) is working memory."""
    sign = np.uint32(0x80000000)
    one[0] = key & ~sign if key & sign else ~key
    return np.float32(one.view(np.float32)[0])


@kernel
def order_statistics(values: Picture, ranks: Numbers) -> Picture:
    """Return the values (n,) of given ranks, 0 the least, as sorting would put them; no NaN, no copy of the values."""
    bits = values.view(np.uint32)
    classes = np.zeros(1 << TOP_SHIFT, dtype=np.int64)
    for k in range(bits.size):
        classes[_key(bits[k]) >> TOP_SHIFT] += 1
    out = np.empty(ranks.size, dtype=np.float32)
    one = np.empty(1, dtype=np.uint32)
    inner = np.empty(1 << TOP_SHIFT, dtype=np.int64)
    counted, below = -1, 0
    for j in range(ranks.size):
        top, before = 0, 0
        while before + classes[top] <= ranks[j]:
            before += classes[top]
            top += 1
        if top != counted:
            inner[:] = 0
            for k in range(bits.size):
                key = _key(bits[k])
                if key >> TOP_SHIFT == top:
                    inner[key & 0xFFFF] += 1
            counted = top
        low, below = 0, before
        while below + inner[low] <= ranks[j]:
            below += inner[low]
            low += 1
        out[j] = _value(np.uint32((top << TOP_SHIFT) | low), one)
    return out


@kernel
def moments(values: Picture, low: float, high: float) -> tuple[int, float, float]:
    """Return number, mean and standard deviation (about the mean, over n) of the values from `low` to `high`."""
    count, total, squares = 0, 0.0, 0.0
    about = 0.0
    for k in range(values.size):
        if low <= values[k] <= high:
            if count == 0:
                about = values[k]
            off = values[k] - about
            count += 1
            total += off
            squares += off * off
    if count == 0:
        return 0, np.nan, np.nan
    mean = total / count
    return count, about + mean, np.sqrt(max(squares / count - mean * mean, 0.0))


@kernel
def density_counts(values: Picture, edges: Floats, first: Numbers, per_unit: float) -> npt.NDArray[np.int64]:
    """Return how many values lie in each bin of density.

    Parameters
    ----------
    values : (n,) float32
        Reflectances.
    edges : (bins,)
        Reflectance at the lighter edge of each bin, falling. What is lighter than the first, or darker than all, is
        counted in the first or the last bin.
    first : (m,) int
        Bin of the lightest value of each step of `1 / per_unit` in reflectance.
    """
    counts = np.zeros(edges.size, dtype=np.int64)
    last = edges.size - 1
    for k in range(values.size):
        value = values[k]
        step = min(max(int(value * per_unit), 0), first.size - 1)
        here = first[step]
        while here < last and value <= edges[here + 1]:
            here += 1
        counts[here] += 1
    return counts


@kernel
def lightness_moments(values: Picture, nodes: Floats, per_unit: float) -> tuple[float, float]:
    """Return mean and standard deviation of lightness, straight between `nodes` that lie `1 / per_unit` apart from 0.

    Values below 0 count as 0, values beyond the last node as that.
    """
    last = nodes.size - 1
    total, squares = 0.0, 0.0
    about = nodes[last // 2]
    for k in range(values.size):
        place = min(max(values[k] * per_unit, 0.0), last - 1e-6)
        node = int(place)
        light = nodes[node] + (place - node) * (nodes[node + 1] - nodes[node]) - about
        total += light
        squares += light * light
    count = max(values.size, 1)
    mean = total / count
    return about + mean, np.sqrt(max(squares / count - mean * mean, 0.0))


@kernel
def _beyond(place: int, size: int) -> int:
    """Return the place that stands for one just outside a picture: mirrored at the middle of its outermost cell."""
    if place < 0:
        return min(1, size - 1)
    return place if place < size else max(size - 2, 0)


@kernel
def smoothed_ratios(picture: Picture, ground: Mask, level: Picture) -> Picture:
    """Return the mean of the 3 x 3 cells about each cell of the ground over its level, 1 off the ground.

    Cells beside the ground count as their own level; those without one are left out.
    """
    h, w = picture.shape
    out = np.ones((h, w), dtype=np.float32)
    for r in range(h):
        for c in range(w):
            if not (ground[r, c] and level[r, c] > 0.0):
                continue
            total, many = 0.0, 0
            for dr in range(-1, 2):
                row = _beyond(r + dr, h)
                for dc in range(-1, 2):
                    column = _beyond(c + dc, w)
                    value = picture[row, column] if ground[row, column] else level[row, column]
                    if not np.isnan(value):
                        total += value
                        many += 1
            out[r, c] = total / many / level[r, c]
    return out
