"""Compiled statistics of square blocks of a picture."""

import numpy as np

from proofkit.arrays import Floats, Ink, Mask, Picture
from proofkit.scan.compiling import kernel


@kernel
def block_sums(
    picture: Picture, wanted: Mask, side: int, low: float, high: float
) -> tuple[Floats, Floats, Floats]:
    """Return what the wanted cells hold in blocks of `side` x `side`; those at the far edges are cut off.

    Returns
    -------
    (rows, columns) Floats
        Sum of the wanted cells from `low` to `high`.
    (rows, columns) Floats
        Their number.
    (rows, columns) Floats
        Number of all wanted cells that are not NaN.
    """
    h, w = picture.shape
    total = np.zeros((-(-h // side), -(-w // side)))
    count = np.zeros(total.shape)
    known = np.zeros(total.shape)
    for r in range(h):
        row = r // side
        for column in range(total.shape[1]):
            here, kept, seen = total[row, column], 0, 0
            for c in range(column * side, min((column + 1) * side, w)):
                value = picture[r, c]
                if wanted[r, c] and not np.isnan(value):
                    seen += 1
                    if low <= value <= high:
                        here += value
                        kept += 1
            total[row, column] = here
            count[row, column] += kept
            known[row, column] += seen
    return total, count, known


@kernel
def block_counts(wanted: Mask, side: int) -> Floats:
    """Return the number of wanted cells in blocks of `side` x `side`; those at the far edges are cut off."""
    h, w = wanted.shape
    count = np.zeros((-(-h // side), -(-w // side)))
    for r in range(h):
        for column in range(count.shape[1]):
            many = 0
            for c in range(column * side, min((column + 1) * side, w)):
                many += wanted[r, c]
            count[r // side, column] += many
    return count


@kernel
def block_percentiles(codes: Ink, rows: int, columns: int, percent: float) -> Floats:
    """Return a percentile of the codes of each of ``rows x columns`` equal blocks, linear between order statistics.

    What does not fill the last block at the far edges is left out.
    """
    tall, wide = codes.shape[0] // rows, codes.shape[1] // columns
    place = percent / 100.0 * (tall * wide - 1)
    below = int(place)
    out = np.empty((rows, columns))
    for i in range(rows):
        for j in range(columns):
            counts = np.zeros(256, dtype=np.int64)
            for r in range(i * tall, (i + 1) * tall):
                for c in range(j * wide, (j + 1) * wide):
                    counts[codes[r, c]] += 1
            code, seen = 0, counts[0]
            while seen <= below:
                code += 1
                seen += counts[code]
            after = code
            while seen <= below + 1 and after < 255:
                after += 1
                seen += counts[after]
            above = after if counts[after] > 0 else code
            out[i, j] = code + (place - below) * (above - code)
    return out
