"""Compiled statistics of square blocks of a picture."""

import numpy as np

from proofkit.arrays import Floats, Ink, Mask, Picture
from proofkit.scan.compiling import kernel


@kernel
def block_shares(picture: Picture, known: Mask, rows: int, columns: int) -> tuple[Picture, Picture]:
    """Return the share of known cells in each of ``rows x columns`` equal blocks, and their sum over the block's area.

    Blocks cover the whole picture; a cell that lies in two of them counts in each by the part that lies there.
    """
    h, w = picture.shape
    tall, wide = h / rows, w / columns
    share = np.zeros((rows, columns), dtype=np.float32)
    mean = np.zeros((rows, columns), dtype=np.float32)
    counts, totals = np.empty(columns), np.empty(columns)
    for i in range(rows):
        counts[:] = 0.0
        totals[:] = 0.0
        top, bottom = i * tall, (i + 1) * tall
        for r in range(int(top), min(int(np.ceil(bottom)), h)):
            high = min(r + 1.0, bottom) - max(float(r), top)
            for j in range(columns):
                left, right = j * wide, (j + 1) * wide
                first, last = int(left), min(int(np.ceil(right)), w) - 1
                count, total = 0.0, 0.0
                for c in range(first, last + 1):
                    if known[r, c]:
                        part = 1.0
                        if c in (first, last):
                            part = min(c + 1.0, right) - max(float(c), left)
                        count += part
                        total += part * picture[r, c]
                counts[j] += high * count
                totals[j] += high * total
        for j in range(columns):
            share[i, j] = counts[j] / (tall * wide)
            mean[i, j] = totals[j] / (tall * wide)
    return share, mean


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
