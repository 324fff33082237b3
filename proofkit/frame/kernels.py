"""Compiled loops over the uint16 plane and over strip profiles."""

import numba as nb
import numpy as np

from proofkit.arrays import Floats, Picture, Plane


@nb.njit(cache=True, nogil=True)
def block_means(plane: Plane, rows: int, columns: int) -> Picture:
    """Return means of blocks of `rows` x `columns` pixels; what does not fill a block is left out.

    Sums are kept in whole numbers, so that a block may hold up to 65 536 rows.
    """
    n = plane.shape[0] // rows
    m = plane.shape[1] // columns
    means = np.empty((n, m), np.float32)
    totals = np.empty(m * columns, np.uint32)
    for i in range(n):
        totals[:] = 0
        for r in range(i * rows, (i + 1) * rows):
            row = plane[r]
            for j in range(m * columns):
                totals[j] += row[j]
        for k in range(m):
            total = 0.0
            for j in range(k * columns, (k + 1) * columns):
                total += totals[j]
            means[i, k] = total / (rows * columns)
    return means


@nb.njit(cache=True, nogil=True, fastmath=True)
def best_runs(evidence: Picture, slopes: Floats, floor: float) -> tuple[Picture, Picture, Picture]:
    """Return, for each offset, the slanted line with the best unbroken run of evidence.

    Parameters
    ----------
    evidence : (strips, offsets)
        Evidence of an edge in each strip at each offset, 0 to 1.
    slopes : (n,)
        Slants to try, in offsets per strip, about the middle strip.
    floor : float
        Evidence below this counts against a run.

    Returns
    -------
    score, slope, span : (offsets,), (offsets,), (offsets, 2)
        Sum of evidence above the floor along the best run, its slant, its first and last strip.
    """
    strips, offsets = evidence.shape
    score = np.zeros(offsets, np.float32)
    slope = np.zeros(offsets, np.float32)
    span = np.zeros((offsets, 2), np.float32)
    total = np.empty(offsets, np.float32)
    start = np.empty(offsets, np.float32)
    middle = 0.5 * (strips - 1)
    for s in range(slopes.shape[0]):
        total[:] = 0.0
        start[:] = 0.0
        for k in range(strips):
            shift = round(slopes[s] * (k - middle))
            first = max(0, -shift)
            last = min(offsets, offsets - shift)
            total[:first] = 0.0
            total[last:] = 0.0
            for j in range(first, last):
                if total[j] <= 0.0:
                    total[j] = 0.0
                    start[j] = k
                total[j] += evidence[k, j + shift] - floor
                if total[j] > score[j]:
                    score[j] = total[j]
                    slope[j] = slopes[s]
                    span[j, 0] = start[j]
                    span[j, 1] = k
    return score, slope, span


@nb.njit(cache=True, nogil=True)
def straighten(plane: Plane, line: Floats, bounds: Floats, inward: int, half: int, step: int) -> Picture:
    """Return mean profiles across a nearly horizontal line, one for each piece of it.

    Parameters
    ----------
    plane : (rows, columns)
        For a nearly vertical line: the transposed plane.
    line : (4,)
        Middle column, row there, slope, curvature: ``row = line[1] + line[2] * d + line[3] * d**2``,
        ``d = column - line[0]``.
    bounds : (pieces + 1,)
        Columns where the pieces begin and end.
    inward : int
        1 when the plate is on the side of growing rows, else -1.
    half : int
        Profiles reach from `half` outside to `half` inside the line. [px]
    step : int
        Every `step`-th column is read.

    Returns
    -------
    Picture
        (pieces, 2 * half + 1), outside first; NaN where the profile leaves the plane.
    """
    pieces = bounds.shape[0] - 1
    rows, columns = plane.shape
    profiles = np.zeros((pieces, 2 * half + 1), np.float32)
    for p in range(pieces):
        count = 0
        for x in range(max(0, int(np.ceil(bounds[p]))), min(columns, int(np.ceil(bounds[p + 1]))), step):
            d = x - line[0]
            y = line[1] + line[2] * d + line[3] * d * d
            if y - half < 0 or y + half + 1 > rows - 1:
                continue
            low = int(np.floor(y))
            part = np.float32(y - low)
            count += 1
            for t in range(-half, half + 1):
                value = (1 - part) * plane[low + t, x] + part * plane[low + t + 1, x]
                profiles[p, inward * t + half] += value
        if count == 0:
            profiles[p] = np.nan
        else:
            profiles[p] /= count
    return profiles
