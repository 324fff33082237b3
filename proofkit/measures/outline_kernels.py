"""Compiled integral of a scan's light over an outline, whole pixels and parts of them."""

import numpy as np

from proofkit.arrays import Floats, Index, Numbers, Plane
from proofkit.reflectance.kernels import level_at
from proofkit.scan.compiling import kernel

LEVEL_PX = 64, 32
"""Columns and rows over which the level of bare paper is taken as one: it changes by less than 1e-4 there. [px]"""


@kernel
def outline_pieces(ring: Floats, sign: float) -> tuple[Numbers, Numbers, Floats, Floats]:
    """Return the pieces of a closed outline between the borders of pixels.

    Parameters
    ----------
    ring : (n, 2)
        Corners, the last as the first; pixel (row r, column c) reaches from r to r + 1 and from c to c + 1. [px]
    sign : float
        1 for an outline that runs from x to y about what it holds, -1 for one that runs the other way.

    Returns
    -------
    row, column : (k,)
        The pixel of each piece.
    down, into : (k,)
        By how much it runs down, and how far from the pixel's left border its middle lies. [px]
    """
    most = 0
    for k in range(ring.shape[0] - 1):
        most += int(abs(ring[k + 1, 0] - ring[k, 0]) + abs(ring[k + 1, 1] - ring[k, 1])) + 3
    row, column = np.empty(most, dtype=np.int64), np.empty(most, dtype=np.int64)
    down, into = np.empty(most), np.empty(most)
    n = 0
    for k in range(ring.shape[0] - 1):
        x, y = ring[k]
        dx, dy = ring[k + 1, 0] - x, ring[k + 1, 1] - y
        if dy == 0.0:
            continue
        each_x, next_x = _crossings(x, dx)
        each_y, next_y = _crossings(y, dy)
        begin = 0.0
        while begin < 1.0:
            end = min(next_x, next_y, 1.0)
            middle = (begin + end) / 2
            row[n], column[n] = int(np.floor(y + middle * dy)), int(np.floor(x + middle * dx))
            down[n], into[n] = sign * (end - begin) * dy, x + middle * dx - column[n]
            n += 1
            if next_x <= end:
                next_x += each_x
            if next_y <= end:
                next_y += each_y
            begin = end
    return row[:n], column[:n], down[:n], into[:n]


@kernel
def _crossings(start: float, step: float) -> tuple[float, float]:
    """Return after which shares of a step whole numbers are crossed: from one to the next, and the first."""
    if step == 0.0:
        return np.inf, np.inf
    ahead = np.floor(start) + 1.0 - start if step > 0 else start - np.ceil(start) + 1.0
    return 1.0 / abs(step), ahead / abs(step)


@kernel
def light_inside(
    plane: Plane,
    surface: tuple[Floats, Floats],
    order: Index,
    pieces: tuple[Numbers, Numbers, Floats, Floats],
) -> tuple[float, float]:
    """Return the integral of R/Rp times 65535 over an outline, as far as it lies on the scan, and its area. [px²]

    Parameters
    ----------
    plane : (h, w)
    surface : tuple
        Bare paper, as `surface_of` returns it.
    order : (k,)
        Pieces by row, then by column.
    pieces : tuple
        From `outline_pieces`, of all rings.

    Notes
    -----
    By Green's theorem: an integral over an area is that of ``F dy`` along its outline, where F is the integral of light
    along the row up to there. So a piece counts for its own pixel by the part to its left, and for all pixels to the
    left of that wholly; between two pieces of a row all pixels count alike.
    """
    row, column, down, into = pieces
    coefficients, place = surface
    h, w = plane.shape
    wide, high = LEVEL_PX
    gains = np.empty(-(-w // wide))
    total, area, told = 0.0, 0.0, -1
    k = 0
    while k < order.size:
        r = row[order[k]]
        if 0 <= r < h and r // high != told:
            told = r // high
            for block in range(gains.size):
                x, y = (block + 0.5) * wide - 0.5, (told + 0.5) * high - 0.5
                gains[block] = 1.0 / level_at(coefficients, place[0], place[1], place[2], x, y)
        share, before = 0.0, -1
        while k < order.size and row[order[k]] == r:
            # Beyond the scan's sides pieces say only what lies between them.
            c = min(max(column[order[k]], -1), w)
            if 0 <= r < h and share != 0.0:
                total += share * _row_light(plane[r], gains, before + 1, c)
                area += share * (c - before - 1)
            own = 0.0
            while k < order.size and row[order[k]] == r and min(max(column[order[k]], -1), w) == c:
                own += down[order[k]] * into[order[k]]
                share -= down[order[k]]
                k += 1
            if 0 <= r < h and 0 <= c < w:
                total += (own + share) * plane[r, c] * gains[c // wide]
                area += own + share
            before = c
    return total, area


@kernel
def _row_light(row: Plane, gains: Floats, first: int, last: int) -> float:
    """Return the sum of a row's light times gains, one for each `LEVEL_PX` columns, from `first` to before `last`."""
    total = 0.0
    while first < last:
        end = min((first // LEVEL_PX[0] + 1) * LEVEL_PX[0], last)
        here = np.uint32(0)
        for c in range(first, end):
            here += np.uint32(row[c])
        total += here * gains[first // LEVEL_PX[0]]
        first = end
    return total
