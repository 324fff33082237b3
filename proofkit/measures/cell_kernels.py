"""Compiled counting of a region's cells, whose light is a whole number and whose kinds are bits."""

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Bits, Floats, Index, Plane
from proofkit.scan.compiling import kernel

CODES = 1 << 16
"""Light of a cell is a whole number below this; 0 is not known."""

KINDS = 4
"""Cells of a region are 0 neither far nor near ground, 1 far, 2 near, or 3 both."""


SPREAD: npt.NDArray[np.uint32] = np.unpackbits(np.arange(256, dtype=np.uint8)[:, None], axis=1).astype(
    np.uint32
)
"""(256, 8) the bits of each byte, from the first cell to the last."""


@kernel
def count_codes(codes: Plane, inside: Bits, far: Bits, near: Bits) -> npt.NDArray[np.int64]:
    """Return how many cells inside have each code, for each kind. (`KINDS`, `CODES`)

    `codes` is (rows, columns); `inside`, `far` and `near` are masks of it as `packed` keeps them. Neighbours are
    counted in two tables in turn: they are often alike, and a count would wait for the one before.
    """
    table, one = np.uint32(KINDS * CODES), np.uint32(1)
    counts = np.zeros(2 * KINDS * CODES, dtype=np.uint32)
    columns = codes.shape[1]
    for r in range(codes.shape[0]):
        row = codes[r]
        for k in range(inside.shape[1]):
            wanted, first, second = inside[r, k], far[r, k], near[r, k]
            if wanted == 0:
                continue
            if wanted == 255 and first == 0 and second == 0 and 8 * k + 8 <= columns:
                for i in range(8):
                    counts[table * np.uint32(i & 1) + np.uint32(row[8 * k + i])] += one
                continue
            for i in range(min(8, columns - 8 * k)):
                kind = SPREAD[first, i] + (SPREAD[second, i] << one)
                at = table * np.uint32(i & 1) + (kind << np.uint32(16)) + np.uint32(row[8 * k + i])
                counts[at] += SPREAD[wanted, i]
    both = counts[: KINDS * CODES] + counts[KINDS * CODES :]
    return both.astype(np.int64).reshape((KINDS, CODES))


@kernel
def unpack_row(bits: Bits, on: npt.NDArray[np.uint16]) -> bool:
    """Write 1 for the wanted cells of a row of a mask kept as bits, 0 for the others; return whether there are any."""
    found = np.uint8(0)
    whole = on.size // 8
    for k in range(whole):
        byte = bits[k]
        found |= byte
        for i in range(8):
            on[8 * k + i] = (byte >> np.uint8(7 - i)) & np.uint8(1)
    for c in range(8 * whole, on.size):
        on[c] = (bits[whole] >> np.uint8(8 * whole + 7 - c)) & np.uint8(1)
        found |= bits[whole]
    return bool(found)


@kernel
def block_sums(codes: Plane, wanted: Bits, side: int, low: int, high: int) -> tuple[Floats, Floats, Floats]:
    """Return what the wanted cells hold in blocks of `side` x `side`; those at the far edges are cut off.

    Returns
    -------
    (rows, columns) Floats
        Sum of the codes of wanted cells from `low` to `high`.
    (rows, columns) Floats
        Their number.
    (rows, columns) Floats
        Number of all wanted cells.
    """
    h, w = codes.shape
    total = np.zeros((-(-h // side), -(-w // side)))
    kept, known = np.zeros(total.shape), np.zeros(total.shape)
    on = np.empty(w, dtype=np.uint16)
    # Down the columns first, many at once; then along the row of blocks.
    sums, some, every = np.zeros(w, np.uint32), np.zeros(w, np.uint16), np.zeros(w, np.uint16)
    least, most = np.uint16(max(low, 0)), np.uint16(max(min(high, CODES - 1), 0))
    for r in range(h):
        if unpack_row(wanted[r], on):
            row = codes[r]
            for c in range(w):
                here = on[c] & np.uint16(row[c] >= least) & np.uint16(row[c] <= most)
                every[c] += on[c]
                some[c] += here
                sums[c] += np.uint32(row[c]) * np.uint32(here)
        if r % side == side - 1 or r == h - 1:
            for j in range(total.shape[1]):
                light, few, all_ = np.uint64(0), np.uint32(0), np.uint32(0)
                for c in range(j * side, min((j + 1) * side, w)):
                    light += np.uint64(sums[c])
                    few += np.uint32(some[c])
                    all_ += np.uint32(every[c])
                total[r // side, j], kept[r // side, j], known[r // side, j] = light, few, all_
            sums[:] = 0
            some[:] = 0
            every[:] = 0
    return total, kept, known


@kernel
def block_areas(wanted: Bits, width: int, side: int, every: int) -> Floats:
    """Return the share of wanted cells, of so many columns, in blocks of `side` x `side`; told by each `every`-th row.

    Blocks at the far edges are as large as the others, and what lies beyond is not wanted.
    """
    h = wanted.shape[0]
    share = np.zeros((-(-h // side), -(-width // side)))
    block = np.arange(width) // side
    for i in range(share.shape[0]):
        row = share[i]
        for r in range(i * side, min((i + 1) * side, h), every):
            for k in range(wanted.shape[1]):
                bits = np.uint32(wanted[r, k])
                if bits == 0:
                    continue
                first, last = 8 * k, min(8 * k + 8, width)
                if bits == 255 and block[first] == block[last - 1]:
                    row[block[first]] += last - first
                    continue
                for c in range(first, last):
                    row[block[c]] += (bits >> np.uint32(first + 7 - c)) & np.uint32(1)
    return share / (-(-side // every) * side)


@kernel
def open_squares(wanted: Bits, width: int, reach: int, step: int) -> tuple[Index, Index]:
    """Return rows and columns of cells with nothing but wanted cells up to `reach` to all sides. (n,) each

    Parameters
    ----------
    wanted : (rows, columns) as `packed`
    width : int
        Its columns.
    reach : int
        [cells]
    step : int
        Only every so manieth row and column are looked at. [cells]
    """
    h, many = wanted.shape
    most, n = (h // step + 1) * (width // step + 1), 0
    rows, columns = np.empty(most, dtype=np.intp), np.empty(most, dtype=np.intp)
    whole = np.empty(many, dtype=np.uint8)
    for r in range(reach, h - reach, step):
        whole[:] = 255
        for near in range(r - reach, r + reach + 1):
            line = wanted[near]
            for k in range(many):
                whole[k] &= line[k]
        run = 0
        for k in range(many):
            byte = np.uint32(whole[k])
            if byte == 0:
                run = 0
                continue
            for c in range(8 * k, min(8 * k + 8, width)):
                run = run + 1 if (byte >> np.uint32(8 * k + 7 - c)) & np.uint32(1) else 0
                if run > 2 * reach and (c - 2 * reach) % step == 0:
                    rows[n], columns[n] = r, c - reach
                    n += 1
    return rows[:n], columns[:n]
