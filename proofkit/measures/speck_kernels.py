"""Compiled search for cells that leave the ground about them: 3 x 3 means against a level told in blocks."""

import numpy as np

from proofkit.arrays import Bits, Floats, Index, Picture, Plane
from proofkit.measures.cell_kernels import CODES, unpack_row
from proofkit.scan.compiling import kernel


@kernel
def _is_set(bits: Bits, r: int, c: int) -> bool:
    """Return whether a cell of a mask kept as bits is wanted."""
    return bool((bits[r, c >> 3] >> np.uint8(7 - (c & 7))) & np.uint8(1))


@kernel
def _inward(place: int, size: int) -> int:
    """Return the place that stands for one just outside a picture: mirrored at the middle of its outermost cell."""
    if place < 0:
        return min(1, size - 1)
    return place if place < size else max(size - 2, 0)


@kernel
def level_at(level: Picture, side: int, r: int, c: int) -> float:
    """Return a level told for blocks of `side` x `side` cells at one cell, linear between the blocks' middles."""
    last_row, last_column = level.shape[0] - 1, level.shape[1] - 1
    y = min(max((r + 0.5) / side - 0.5, 0.0), float(last_row))
    x = min(max((c + 0.5) / side - 0.5, 0.0), float(last_column))
    top, left = int(y), int(x)
    below, right = min(top + 1, last_row), min(left + 1, last_column)
    v, u = y - top, x - left
    upper = level[top, left] + u * (level[top, right] - level[top, left])
    lower = level[below, left] + u * (level[below, right] - level[below, left])
    return float(upper + v * (lower - upper))


@kernel
def _ratio(codes: Plane, ground: Bits, level: Picture, side: int, r: int, c: int) -> float:
    """Return the mean of the 3 x 3 cells about one over its level; 1 where there is no level.

    Cells beside the ground count as that level.
    """
    own = level_at(level, side, r, c)
    if not own > 0.0:
        return 1.0
    h, w = codes.shape
    total, many = 0, 0
    for dr in range(-1, 2):
        row = _inward(r + dr, h)
        for dc in range(-1, 2):
            column = _inward(c + dc, w)
            on = int(_is_set(ground, row, column))
            total += on * int(codes[row, column])
            many += on
    return (total / own + (9 - many)) / 9.0


@kernel
def ratios_at(codes: Plane, ground: Bits, level: Picture, side: int, cells: Index) -> Floats:
    """Return by how much the means about some cells of the ground lie above their level, as ratios. (n,)

    Parameters
    ----------
    codes : (rows, columns) uint16
    ground : (rows, columns) as `packed`
    level : (block rows, block columns)
        Of the codes, in blocks of `side` x `side` cells; NaN where there is none.
    side : int
    cells : (n,)
        Their numbers, row by row.
    """
    out = np.empty(cells.size)
    for k in range(cells.size):
        out[k] = _ratio(codes, ground, level, side, cells[k] // codes.shape[1], cells[k] % codes.shape[1])
    return out


@kernel
def every_cell(wanted: Bits, width: int, step: int) -> Index:
    """Return the numbers of every `step`-th of the wanted cells of so many columns, row by row."""
    out = np.empty(wanted.size * 8 // step + 1, dtype=np.intp)
    numbers = np.zeros(256, dtype=np.int64)
    for byte in range(1, 256):
        numbers[byte] = numbers[byte >> 1] + (byte & 1)
    # How many wanted cells come before the next one that is taken.
    left, n = 0, 0
    for r in range(wanted.shape[0]):
        for k in range(wanted.shape[1]):
            here = numbers[wanted[r, k]]
            if here <= left:
                left -= here
                continue
            bits = np.uint32(wanted[r, k])
            for c in range(8 * k, min(8 * k + 8, width)):
                if (bits >> np.uint32(8 * k + 7 - c)) & np.uint32(1):
                    if left == 0:
                        out[n] = r * width + c
                        n += 1
                        left = step
                    left -= 1
    return out[:n]


@kernel
def _bounds(level: Picture, dark: float, light: float) -> tuple[Plane, Plane]:
    """Return for each block the codes beyond which a cell may leave `dark` to `light` times its level."""
    low, high = np.zeros(level.shape, dtype=np.uint16), np.full(level.shape, CODES - 1, dtype=np.uint16)
    for i in range(level.shape[0]):
        for j in range(level.shape[1]):
            highest, lowest = 0.0, float(CODES)
            for near_i in range(max(i - 1, 0), min(i + 2, level.shape[0])):
                for near_j in range(max(j - 1, 0), min(j + 2, level.shape[1])):
                    value = level[near_i, near_j]
                    if not np.isnan(value):
                        highest, lowest = max(highest, value), min(lowest, value)
            low[i, j] = min(np.ceil(dark * highest), CODES - 1)
            high[i, j] = min(np.floor(light * lowest), CODES - 1)
    return low, high


@kernel
def stray_cells(
    codes: Plane, ground: Bits, level: Picture, side: int, limits: tuple[float, float]
) -> tuple[Bits, Bits]:
    """Return the cells of the ground whose 3 x 3 mean is below the first or above the second limit times their level.

    Masks are as `packed`: strays are few, and bytes without any are passed over. Such a mean holds a cell that is
    beyond the limit itself, and those are few as well: only about them means are taken.
    """
    h, w = codes.shape
    low, high = _bounds(level, limits[0], limits[1])
    block = np.minimum(np.arange(w) // side, level.shape[1] - 1)
    lowest, highest = np.empty(w, dtype=np.uint16), np.empty(w, dtype=np.uint16)
    on = np.empty(w, dtype=np.uint16)
    # One byte a cell, so that eight of them are asked at once.
    beyond = np.zeros(-(-w // 8) * 8, dtype=np.uint8)
    eights = beyond.view(np.uint64)
    below, above = np.zeros_like(ground), np.zeros_like(ground)
    for r in range(h):
        if r % side == 0:
            i = min(r // side, level.shape[0] - 1)
            for c in range(w):
                lowest[c], highest[c] = low[i, block[c]], high[i, block[c]]
        if not unpack_row(ground[r], on):
            continue
        row = codes[r]
        for c in range(w):
            beyond[c] = on[c] & (np.uint16(row[c] < lowest[c]) | np.uint16(row[c] > highest[c]))
        for k in range(eights.size):
            if eights[k]:
                for c in range(8 * k, 8 * k + 8):
                    if beyond[c]:
                        _mark_about(codes, ground, level, side, limits, r, c, below, above)
    return below, above


@kernel
def _mark_about(
    codes: Plane,
    ground: Bits,
    level: Picture,
    side: int,
    limits: tuple[float, float],
    r: int,
    c: int,
    below: Bits,
    above: Bits,
) -> None:
    """Mark those of the 3 x 3 cells about one that are ground and beyond a limit."""
    h, w = codes.shape
    for row in range(max(r - 1, 0), min(r + 2, h)):
        for column in range(max(c - 1, 0), min(c + 2, w)):
            if not _is_set(ground, row, column):
                continue
            if _is_set(below, row, column) or _is_set(above, row, column):
                continue
            ratio = _ratio(codes, ground, level, side, row, column)
            if ratio < limits[0] or ratio > limits[1]:
                marked = below if ratio < limits[0] else above
                marked[row, column >> 3] |= np.uint8(128 >> (column & 7))
