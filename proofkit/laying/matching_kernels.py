"""Compiled correlation of patches of one picture with another, whole cell by whole cell."""

import numpy as np

from proofkit.arrays import Floats, Ink, Mask, Numbers, Picture
from proofkit.scan.compiling import kernel


@kernel
def _spread(total: float, squares: float, count: int) -> float:
    """Return the standard deviation of `count` values by their sum and their sum of squares."""
    mean = total / count
    return float(np.sqrt(max(squares / count - mean * mean, 0.0)))


@kernel
def _windows(area: Ink, size: int, sums: Numbers, squares: Numbers) -> None:
    """Write sum and sum of squares of every `size` x `size` window of an area. (k, k) each, whole numbers."""
    side = area.shape[0]
    k = side - size + 1
    sums[:] = 0
    squares[:] = 0
    for r in range(side):
        row = area[r]
        total, square = np.int32(0), np.int32(0)
        for c in range(size):
            value = np.int32(row[c])
            total += value
            square += value * value
        for dx in range(k):
            for dy in range(max(r - size + 1, 0), min(r, k - 1) + 1):
                sums[dy, dx] += total
                squares[dy, dx] += square
            if dx + 1 < k:
                old, new = np.int32(row[dx]), np.int32(row[dx + size])
                total += new - old
                square += new * new - old * old


@kernel
def _products(patch: Ink, area: Ink, dx: int, dy: int) -> int:
    """Return the sum of products of a patch and the window of an area at (dx, dy)."""
    size = patch.shape[0]
    total = np.int64(0)
    for r in range(size):
        one, other = patch[r], area[dy + r, dx : dx + size]
        products = np.int32(0)
        for c in range(size):
            products += np.int32(one[c]) * np.int32(other[c])
        total += products
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
            one += value
            two += value * value
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
            b1 += b
            bb += b * b
            ab += a * b
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
    A row's sum of products stays below 256 * 255^2 < 2^24; all sums are whole numbers, so that nothing is rounded.
    """
    n, side = corners.shape[0], areas.shape[1]
    k = side - size + 1
    used = np.zeros(n, dtype=np.bool_)
    scores = np.zeros((n, k, k), dtype=np.float32)
    sums, squares = np.empty((k, k), dtype=np.int64), np.empty((k, k), dtype=np.int64)
    count, whole_patch, whole_area = size * size, np.array((0, size, 0, size)), np.array((0, side, 0, side))
    for i in range(n):
        top, left = corners[i, 0], corners[i, 1]
        patch = standard[top : top + size, left : left + size].copy()
        total, square = _moments(patch, whole_patch)
        if beyond[i] > outside_most or _spread(total, square, count) < flattest:
            continue
        if _spread(*_moments(areas[i], whole_area), side * side) < flattest_sheet:
            continue
        used[i] = True
        _windows(areas[i], size, sums, squares)
        own = square - float(total) * total / count
        for dy in range(k):
            for dx in range(k):
                here = float(sums[dy, dx])
                there = squares[dy, dx] - here**2 / count
                if there * own > 0.0:
                    both = _products(patch, areas[i], dx, dy) - total * here / count
                    scores[i, dy, dx] = both / np.sqrt(own * there)
    return used, scores
