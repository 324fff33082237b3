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
def _windows(area: Picture, size: int, sums: Floats, squares: Floats) -> None:
    """Write sum and sum of squares of every `size` x `size` window of an area. (k, k) each.

    All are whole numbers far below 2^53, so that nothing is rounded.
    """
    side = area.shape[0]
    k = side - size + 1
    sums[:] = 0.0
    squares[:] = 0.0
    for r in range(side):
        row = area[r]
        total, square = 0.0, 0.0
        for c in range(size - 1):
            value = float(row[c])
            total += value
            square += value * value
        for dx in range(k):
            value = float(row[dx + size - 1])
            total += value
            square += value * value
            for dy in range(max(r - size + 1, 0), min(r, k - 1) + 1):
                sums[dy, dx] += total
                squares[dy, dx] += square
            value = float(row[dx])
            total -= value
            square -= value * value


@kernel
def _products(patch: Picture, area: Picture, dx: int, dy: int, lanes: Picture) -> float:
    """Return the sum of products of a patch and the window of an area at (dx, dy).

    `lanes` is working memory, one sum a column: sums that do not wait for each other are taken many at a time.
    """
    size = patch.shape[0]
    lanes[:] = 0.0
    for r in range(size):
        one, other = patch[r], area[dy + r, dx : dx + size]
        for c in range(size):
            lanes[c] += one[c] * other[c]
    total = 0.0
    for c in range(size):
        total += float(lanes[c])
    return total


@kernel
def correlation_at(
    standard: Ink, sheet: Ink, top: int, left: int, rows: int, columns: int, dy: int, dx: int
) -> float:
    """Return the normalised correlation of a rectangle of the standard with the sheet's at an offset, 0 if one is even.

    Sums are whole numbers, so that nothing is rounded; the rectangle lies inside both pictures.
    """
    none = np.int64(0)
    one, other, ones, others, both = none, none, none, none, none
    for r in range(rows):
        here = standard[top + r, left : left + columns]
        there = sheet[top + dy + r, left + dx : left + dx + columns]
        for c in range(columns):
            a, b = np.int64(here[c]), np.int64(there[c])
            one += a
            other += b
            ones += a * a
            others += b * b
            both += a * b
    count = rows * columns
    spread = (float(count * ones) - float(one) ** 2) * (float(count * others) - float(other) ** 2)
    return (float(count * both) - float(one) * float(other)) / np.sqrt(spread) if spread > 0.0 else 0.0


@kernel
def best_near(
    standard: Ink, sheet: Ink, top: int, left: int, rows: int, columns: int, dy: int, dx: int
) -> float:
    """Return the greatest correlation within a cell of an offset; see `correlation_at`."""
    best = -1.0
    for y in range(dy - 1, dy + 2):
        for x in range(dx - 1, dx + 2):
            best = max(best, correlation_at(standard, sheet, top, left, rows, columns, y, x))
    return best


@kernel
def correlate_patches(
    standard: Ink,
    sheet: Ink,
    outside: Mask,
    corners: Numbers,
    size: int,
    search: int,
    flattest: float,
    flattest_sheet: float,
    outside_most: float,
) -> tuple[Mask, Picture]:
    """Return the normalised correlation of patches of the standard with the sheet, for every offset.

    Parameters
    ----------
    standard, sheet : (h, w) uint8
    outside : (h, w) bool
        Cells of the sheet that lie outside the scan; (0, 0) when there are none.
    corners : (n, 2) int32
        Row and column of the top left of each patch; the search around it stays inside the pictures.
    size, search : int
        Side of a patch, at most 256, and largest offset. [cells]
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
    A column's sum of products stays below 256 * 255^2 < 2^24, so that 32 bit floats hold it without rounding.
    """
    n, k, side = corners.shape[0], 2 * search + 1, size + 2 * search
    used = np.zeros(n, dtype=np.bool_)
    scores = np.zeros((n, k, k), dtype=np.float32)
    patch = np.empty((size, size), dtype=np.float32)
    area = np.empty((side, side), dtype=np.float32)
    lanes = np.empty(size, dtype=np.float32)
    sums, squares = np.empty((k, k)), np.empty((k, k))
    count = size * size
    for i in range(n):
        top, left = corners[i, 0], corners[i, 1]
        total, square = 0.0, 0.0
        for r in range(size):
            for c in range(size):
                value = float(standard[top + r, left + c])
                patch[r, c] = value
                total += value
                square += value * value
        if _spread(total, square, count) < flattest:
            continue
        whole, whole_square, beyond = 0.0, 0.0, 0
        for r in range(side):
            for c in range(side):
                value = float(sheet[top - search + r, left - search + c])
                area[r, c] = value
                whole += value
                whole_square += value * value
        if outside.size:
            for r in range(side):
                for c in range(side):
                    beyond += outside[top - search + r, left - search + c]
        if beyond > outside_most * side * side or _spread(whole, whole_square, side * side) < flattest_sheet:
            continue
        used[i] = True
        _windows(area, size, sums, squares)
        own = square - total * total / count
        for dy in range(k):
            for dx in range(k):
                there = squares[dy, dx] - sums[dy, dx] ** 2 / count
                if there * own > 0.0:
                    both = _products(patch, area, dx, dy, lanes) - total * sums[dy, dx] / count
                    scores[i, dy, dx] = both / np.sqrt(own * there)
    return used, scores
