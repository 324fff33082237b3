"""Compiled statistics of square blocks of a picture."""

import numpy as np

from proofkit.arrays import Floats, Ink, Mask, Picture
from proofkit.scan.compiling import kernel


@kernel
def block_sums(picture: Picture, wanted: Mask, side: int) -> tuple[Floats, Floats]:
    """Return sum and number of the wanted cells in blocks of `side` x `side`; those at the far edges are cut off."""
    h, w = picture.shape
    total = np.zeros((-(-h // side), -(-w // side)))
    count = np.zeros(total.shape)
    for r in range(h):
        row = r // side
        for c in range(w):
            if wanted[r, c]:
                total[row, c // side] += picture[r, c]
                count[row, c // side] += 1.0
    return total, count


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
