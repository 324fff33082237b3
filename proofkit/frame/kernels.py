"""Compiled loops over the uint16 plane and over strip profiles."""

import numba as nb
import numpy as np

from proofkit.arrays import Floats, Picture, Plane


@nb.njit(cache=True, nogil=True)
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
    begin = np.zeros(offsets, np.float32)
    end = np.zeros(offsets, np.float32)
    total = np.empty(offsets, np.float32)
    start = np.empty(offsets, np.float32)
    middle = 0.5 * (strips - 1)
    none = np.float32(0.0)
    for s in range(slopes.shape[0]):
        total[:] = 0.0
        start[:] = 0.0
        for k in range(strips):
            shift = round(slopes[s] * (k - middle))
            first = max(0, -shift)
            last = min(offsets, offsets - shift)
            total[:first] = 0.0
            total[last:] = 0.0
            if first >= last:
                continue
            seen, slant, now = evidence[k, first + shift : last + shift], np.float32(slopes[s]), np.float32(k)
            run, since, best = total[first:last], start[first:last], score[first:last]
            best_slope, best_begin, best_end = slope[first:last], begin[first:last], end[first:last]
            # Every place is written every time: without a branch eight of them are done at once.
            for j in range(seen.size):
                anew = run[j] <= none
                since[j] = now if anew else since[j]
                run[j] = np.float32((none if anew else run[j]) + (seen[j] - floor))
                better = run[j] > best[j]
                best[j] = run[j] if better else best[j]
                best_slope[j] = slant if better else best_slope[j]
                best_begin[j] = since[j] if better else best_begin[j]
                best_end[j] = now if better else best_end[j]
    return score, slope, np.column_stack((begin, end))


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
    width = 2 * half + 1
    profiles = np.empty((pieces, width), np.float32)
    total = np.empty(width, np.float32)
    for p in range(pieces):
        count = 0
        total[:] = 0.0
        for x in range(max(0, int(np.ceil(bounds[p]))), min(columns, int(np.ceil(bounds[p + 1]))), step):
            d = x - line[0]
            y = line[1] + line[2] * d + line[3] * d * d
            if y - half < 0 or y + half + 1 > rows - 1:
                continue
            low = int(np.floor(y))
            part = np.float32(y - low)
            count += 1
            across = plane[low - half : low + half + 2, x]
            for t in range(width):
                total[t] += (1 - part) * across[t] + part * across[t + 1]
        for t in range(width):
            profiles[p, t if inward > 0 else width - 1 - t] = total[t] / count if count else np.nan
    return profiles
