"""Compiled statistics of square blocks of a picture."""

import numpy as np

from proofkit.arrays import Floats, Ink, Mask, Picture
from proofkit.laying.rectify_kernels import NODE_PX
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


@kernel
def mark_blocks(wanted: Mask, x: Floats, y: Floats, step: int, found: Mask) -> None:
    """Write into `found` which square blocks of `step` px of a scan hold a wanted cell; cells beyond it have none.

    `x` and `y` (node rows, node columns) are places of the cells' nodes in the scan, linear between them. [px]
    """
    for row in range(wanted.shape[0]):
        j = min(row // NODE_PX, x.shape[0] - 2)
        b = (row - j * NODE_PX) / NODE_PX
        for column in range(wanted.shape[1]):
            if not wanted[row, column]:
                continue
            i = min(column // NODE_PX, x.shape[1] - 2)
            a = (column - i * NODE_PX) / NODE_PX
            px = (1.0 - b) * ((1.0 - a) * x[j, i] + a * x[j, i + 1])
            px += b * ((1.0 - a) * x[j + 1, i] + a * x[j + 1, i + 1])
            py = (1.0 - b) * ((1.0 - a) * y[j, i] + a * y[j, i + 1])
            py += b * ((1.0 - a) * y[j + 1, i] + a * y[j + 1, i + 1])
            block_row, block_column = int(np.floor((py + 0.5) / step)), int(np.floor((px + 0.5) / step))
            if 0 <= block_row < found.shape[0] and 0 <= block_column < found.shape[1]:
                found[block_row, block_column] = True
