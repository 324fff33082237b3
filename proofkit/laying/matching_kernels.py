"""Compiled correlation of patches of one picture with another, whole cell by whole cell.

Sums of a row are kept to 32 bits at each step, as the compiler would else widen them to 64 and multiply a few at a
time.
"""

import numpy as np

from proofkit.arrays import Floats, Ink, Mask, Numbers, Picture
from proofkit.scan.compiling import kernel


@kernel
def _spread(total: float, squares: float, count: int) -> float:
    """Return the standard deviation of `count` values by their sum and their sum of squares."""
    mean = total / count
    return float(np.sqrt(max(squares / count - mean * mean, 0.0)))


@kernel
def _windows(area: Ink, size: int, room: Numbers, sums: Numbers, squares: Numbers) -> None:
    """Write sum and sum of squares of every `size` x `size` window of an area. (k, k) each, whole numbers.

    `room` (2, side, k) takes those of every part of a row; a window's are then told from the one above it.
    """
    side = area.shape[0]
    k = side - size + 1
    for r in range(side):
        row = area[r]
        total, square = np.int32(0), np.int32(0)
        for c in range(size):
            value = np.int32(row[c])
            total = np.int32(total + value)
            square = np.int32(square + value * value)
        for dx in range(k):
            room[0, r, dx], room[1, r, dx] = total, square
            if dx + 1 < k:
                old, new = np.int32(row[dx]), np.int32(row[dx + size])
                total = np.int32(total + new - old)
                square = np.int32(square + new * new - old * old)
    for n, out in enumerate((sums, squares)):
        for dx in range(k):
            out[0, dx] = 0
            for r in range(size):
                out[0, dx] += room[n, r, dx]
            for dy in range(1, k):
                out[dy, dx] = out[dy - 1, dx] + room[n, dy + size - 1, dx] - room[n, dy - 1, dx]


@kernel
def _lay_out(standard: Ink, top: int, left: int, size: int, wide: Ink) -> tuple[int, int]:
    """Write a patch of the standard into the first columns of `wide`; return its sum and its sum of squares."""
    total, squares = np.int64(0), np.int64(0)
    for r in range(size):
        there, here = standard[top + r, left : left + size], wide[r]
        one, two = np.int32(0), np.int32(0)
        for c in range(size):
            here[c] = there[c]
            value = np.int32(there[c])
            one = np.int32(one + value)
            two = np.int32(two + value * value)
        total += one
        squares += two
    return int(total), int(squares)


@kernel
def _products(one: Ink, other: Ink, start: int) -> int:
    """Return the sum of products of all values of `one` and as many of `other` from `start` on."""
    total, first = np.uint32(0), np.uint64(start)
    for c in range(one.size):
        at = np.uint64(c)
        total = np.uint32(total + np.uint32(one[at]) * np.uint32(other[first + at]))
    return int(total)


@kernel
def _moments(window: Ink, part: Numbers) -> tuple[int, int]:
    """Return sum and sum of squares of a part of a window: first and last row and column, the last not included."""
    total, squares = np.int64(0), np.int64(0)
    for r in range(part[0], part[1]):
        here = window[r, part[2] : part[3]]
        one, two = np.int32(0), np.int32(0)
        for c in range(here.size):
            value = np.int32(here[c])
            one = np.int32(one + value)
            two = np.int32(two + value * value)
        total += one
        squares += two
    return int(total), int(squares)


@kernel
def _correlation(
    standard: Ink, window: Ink, part: Numbers, own: tuple[int, int], top: int, left: int, every: int
) -> float:
    """Return the normalised correlation of a part of a window with the standard, 0 if one of them is even.

    Row r of the window lies on row ``top + every * r`` of the standard, its first column on column `left`; `own` are
    its `_moments`. Sums are whole numbers: nothing is rounded.
    """
    other, others, both = np.int64(0), np.int64(0), np.int64(0)
    for r in range(part[0], part[1]):
        here = window[r, part[2] : part[3]]
        there = standard[top + every * r, left + part[2] : left + part[3]]
        b1, bb, ab = np.int32(0), np.int32(0), np.int32(0)
        for c in range(here.size):
            a, b = np.int32(here[c]), np.int32(there[c])
            b1 = np.int32(b1 + b)
            bb = np.int32(bb + b * b)
            ab = np.int32(ab + a * b)
        other += b1
        others += bb
        both += ab
    one, ones = own
    count = (part[1] - part[0]) * (part[3] - part[2])
    spread = (float(count * ones) - float(one) ** 2) * (float(count * others) - float(other) ** 2)
    return (float(count * both) - float(one) * float(other)) / np.sqrt(spread) if spread > 0.0 else 0.0


@kernel
def best_near(
    standard: Ink, window: Ink, part: Numbers, own: tuple[int, int], top: int, left: int, every: int
) -> float:
    """Return the greatest correlation within a cell of a place; see `_correlation`."""
    best = -1.0
    for y in range(top - 1, top + 2):
        for x in range(left - 1, left + 2):
            best = max(best, _correlation(standard, window, part, own, y, x, every))
    return best


@kernel
def compare_beside(
    standard: Ink, windows: Ink, parts: Numbers, corners: Numbers, steps: Numbers, every: int
) -> tuple[Floats, Floats, Floats]:
    """Return how well windows of a sheet correlate where they lie, and a step beside, whichever side is better.

    Parameters
    ----------
    standard : (h, w) uint8
    windows : (n, rows, columns) uint8
        What the sheet shows; rows are `every` cells of the standard apart.
    parts : (n, 4) int
        First and last row and column that are compared, the last not included: nowhere beyond the standard.
    corners, steps : (n, 2) int
        Row and column of the first cell of each window, and of the step. [cells]
    every : int

    Returns
    -------
    Floats
        (n,) the best within a cell of its own place.
    Floats
        (n,) the best within a cell of either place a step beside.
    Floats
        (n,) standard deviation of the part of the window that was compared. [codes]
    """
    n = corners.shape[0]
    here, beside, spread = np.empty(n), np.empty(n), np.empty(n)
    for k in range(n):
        part, top, left, down, right = parts[k], corners[k, 0], corners[k, 1], steps[k, 0], steps[k, 1]
        own = _moments(windows[k], part)
        spread[k] = _spread(own[0], own[1], (part[1] - part[0]) * (part[3] - part[2]))
        here[k] = best_near(standard, windows[k], part, own, top, left, every)
        before = best_near(standard, windows[k], part, own, top - down, left - right, every)
        after = best_near(standard, windows[k], part, own, top + down, left + right, every)
        beside[k] = max(before, after)
    return here, beside, spread


@kernel
def correlate_patches(
    standard: Ink,
    areas: Ink,
    beyond: Floats,
    corners: Numbers,
    size: int,
    flattest: float,
    flattest_sheet: float,
    outside_most: float,
) -> tuple[Mask, Picture]:
    """Return the normalised correlation of patches of the standard with the sheet, for every offset.

    Parameters
    ----------
    standard : (h, w) uint8
    areas : (n, size + 2 search, size + 2 search) uint8
        What the sheet shows at each patch and `search` cells around it.
    beyond : (n,)
        Share of each area that lies outside the scan. [-]
    corners : (n, 2) int32
        Row and column of the top left of each patch.
    size : int
        Side of a patch, at most 256. [cells]
    flattest, flattest_sheet : float
        A patch, or the area it is looked for in, with less spread than this is passed over. [codes]
    outside_most : float
        ... and an area of which more lies outside the scan. [-]

    Returns
    -------
    (n,) bool
        Which patches were compared.
    (n, 2 search + 1, 2 search + 1) float32
        Their correlation by offset, rows first; 0 where the window on the sheet is even.

    Notes
    -----
    A sum of products stays below 256 * 256 * 255^2 < 2^32; all sums are whole numbers, so that nothing is rounded. A
    patch is laid out in rows as long as those of the areas, with nothing beyond it, so that its products with a window
    are one sum over values that follow each other.
    """
    n, side = corners.shape[0], areas.shape[1]
    k = side - size + 1
    used = np.zeros(n, dtype=np.bool_)
    scores = np.zeros((n, k, k), dtype=np.float32)
    sums, squares = np.empty((k, k), dtype=np.int64), np.empty((k, k), dtype=np.int64)
    room, wide = np.empty((2, side, k), dtype=np.int32), np.zeros((size, side), dtype=np.uint8)
    patch = wide.reshape(-1)[: (size - 1) * side + size]
    count, whole_area = size * size, np.array((0, side, 0, side))
    for i in range(n):
        total, square = _lay_out(standard, corners[i, 0], corners[i, 1], size, wide)
        if beyond[i] > outside_most or _spread(total, square, count) < flattest:
            continue
        if _spread(*_moments(areas[i], whole_area), side * side) < flattest_sheet:
            continue
        used[i] = True
        _windows(areas[i], size, room, sums, squares)
        own, area = square - float(total) * total / count, areas[i].reshape(-1)
        for dy in range(k):
            for dx in range(k):
                here = float(sums[dy, dx])
                there = squares[dy, dx] - here**2 / count
                if there * own > 0.0:
                    both = _products(patch, area, dy * side + dx) - total * here / count
                    scores[i, dy, dx] = both / np.sqrt(own * there)
    return used, scores
