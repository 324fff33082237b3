"""Compiled statistics of a region's cells: which are told, their order, their tone."""

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats, Mask, Numbers, Picture
from proofkit.scan.compiling import kernel

Words = npt.NDArray[np.uint64]
Bytes = npt.NDArray[np.uint8]

TOP_SHIFT = 16
"""Values are sorted by their upper 16 bits first; those of reflectances fall into some hundred classes."""


EIGHT = np.uint64(0x0101010101010101)
"""Eight cells of a mask that are all wanted; times a word of cells it has their number in its highest byte."""


def words_of(mask: Mask) -> tuple[Words, Bytes]:
    """Return a mask row by row as words of eight cells, and cell by cell: most masks hold long runs of either kind."""
    cells = np.ascontiguousarray(mask).reshape(-1).view(np.uint8)
    return cells[: cells.size // 8 * 8].view(np.uint64), cells


def known_cells(picture: Picture, wanted: Mask) -> Picture:
    """Return the wanted cells of a picture that are not NaN, row by row, (n,); a view where that is all of them."""
    values = np.ascontiguousarray(picture).reshape(-1)
    if wanted.all() and not np.isnan(values.sum()):
        return values
    return _known(values, *words_of(wanted))


@kernel
def _known(values: Picture, words: Words, cells: Bytes) -> Picture:
    many = 0
    for k in range(words.size):
        many += int((words[k] * EIGHT) >> np.uint64(56))
    for k in range(8 * words.size, cells.size):
        many += cells[k]
    out = np.empty(many + 1, dtype=np.float32)
    n = 0
    for k in range(words.size + 1):
        if k < words.size and words[k] == 0:
            continue
        for c in range(8 * k, min(8 * k + 8, cells.size)):
            # Written without asking and kept when it counts: masks of line work would mislead a forecast of branches.
            out[n] = values[c]
            n += cells[c] and not np.isnan(values[c])
    return out[:n]


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


LANES = 4
"""Sums and counts that are kept side by side: one does not wait for the one before."""


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
    counts = np.zeros((LANES, edges.size), dtype=np.int64)
    last = edges.size - 1
    for k in range(values.size):
        value = values[k]
        step = min(max(int(value * per_unit), 0), first.size - 1)
        here = first[step]
        while here < last and value <= edges[here + 1]:
            here += 1
        counts[k % LANES, here] += 1
    return np.asarray(counts.sum(axis=0))


@kernel
def lightness_moments(values: Picture, nodes: Floats, per_unit: float) -> tuple[float, float]:
    """Return mean and standard deviation of lightness, straight between `nodes` that lie `1 / per_unit` apart from 0.

    Values below 0 count as 0, values beyond the last node as that.
    """
    last = nodes.size - 1
    totals, squares = np.zeros(LANES), np.zeros(LANES)
    about = nodes[last // 2]
    for begin in range(0, values.size, LANES):
        for lane in range(min(LANES, values.size - begin)):
            place = min(max(values[begin + lane] * per_unit, 0.0), last - 1e-6)
            node = np.uint64(place)
            light = nodes[node] + (place - node) * (nodes[node + np.uint64(1)] - nodes[node]) - about
            totals[lane] += light
            squares[lane] += light * light
    count = max(values.size, 1)
    mean = totals.sum() / count
    return about + mean, np.sqrt(max(squares.sum() / count - mean * mean, 0.0))


@kernel
def _beyond(place: int, size: int) -> int:
    """Return the place that stands for one just outside a picture: mirrored at the middle of its outermost cell."""
    if place < 0:
        return min(1, size - 1)
    return place if place < size else max(size - 2, 0)


def smoothed_ratios(picture: Picture, ground: Mask, level: Picture) -> Picture:
    """Return the mean of the 3 x 3 cells about each cell of the ground over its level, 1 off the ground.

    Cells beside the ground count as their own level; those without one are left out.
    """
    values, levels = (np.ascontiguousarray(part).reshape(-1) for part in (picture, level))
    h, w = picture.shape
    return np.asarray(_smoothed(values, levels, *words_of(ground), h, w).reshape(h, w))


@kernel
def _smoothed(values: Picture, level: Picture, words: Words, cells: Bytes, h: int, w: int) -> Picture:
    """Do what `smoothed_ratios` says, on all cells of `h` rows of `w` cells in a row."""
    out = np.ones(values.size, dtype=np.float32)
    for k in range(words.size + 1):
        if k < words.size and words[k] == 0:
            continue
        for c in range(8 * k, min(8 * k + 8, cells.size)):
            if not (cells[c] and level[c] > 0.0):
                continue
            row, column = c // w, c % w
            total = np.nan
            if 0 < row < h - 1 and 0 < column < w - 1:
                total = 0.0
                for near in (c - w, c, c + w):
                    for i in range(near - 1, near + 2):
                        total += values[i] if cells[i] else level[i]
            many = 9
            if np.isnan(total):
                total, many = _seen_about(values, level, cells, row, column, h, w)
            out[c] = total / many / level[c]
    return out


@kernel
def _seen_about(
    values: Picture, level: Picture, cells: Bytes, r: int, c: int, h: int, w: int
) -> tuple[float, int]:
    """Return the sum of the 3 x 3 cells about one that are not NaN, and their number; at an edge it is mirrored."""
    total, many = 0.0, 0
    for dr in range(-1, 2):
        for dc in range(-1, 2):
            i = _beyond(r + dr, h) * w + _beyond(c + dc, w)
            value = values[i] if cells[i] else level[i]
            if not np.isnan(value):
                total += value
                many += 1
    return total, many
