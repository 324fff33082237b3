"""Compiled loops over the blocks of a margin: the surface at each, and sums over squares of them."""

import numpy as np

from proofkit.arrays import Floats, Mask, Numbers, Points
from proofkit.reflectance.kernels import polynomial_at
from proofkit.scan.compiling import kernel


@kernel
def surface_at(square: Floats, uv: Points) -> Floats:
    """Return the surface of a square of coefficients (k, k) at places (n, 2), see `square_of`."""
    found = np.empty(len(uv))
    for n in range(len(uv)):
        found[n] = polynomial_at(square, uv[n, 0], uv[n, 1])
    return found


@kernel
def near_surface(level: Floats, even: Mask, square: Floats, uv: Floats, within: float) -> tuple[Mask, Mask]:
    """Return which even blocks lie on a surface, and which of all that have a level do not.

    `level` and `even` are (rows, columns), `uv` their places (rows, columns, 2); `within` is in log level.
    """
    fits, bad = np.zeros(level.shape, np.bool_), np.zeros(level.shape, np.bool_)
    for i in range(level.shape[0]):
        for j in range(level.shape[1]):
            if np.isfinite(level[i, j]):
                off = abs(level[i, j] - polynomial_at(square, uv[i, j, 0], uv[i, j, 1]))
                fits[i, j] = even[i, j] and off < within
                bad[i, j] = not fits[i, j]
    return fits, bad


@kernel
def square_sums(uv: Points, level: Floats, side: float) -> tuple[Numbers, Floats]:
    """Return how many places (n, 2) each square of a side holds, and sums of u, v and level (n,) over it.

    Squares that hold none are left out: (k,) and (k, 3), ordered by u and then by v.
    """
    least_u, least_v, most_v = np.inf, np.inf, -np.inf
    most_u = -np.inf
    for n in range(len(uv)):
        u, v = np.floor(uv[n, 0] / side), np.floor(uv[n, 1] / side)
        least_u, least_v = min(least_u, u), min(least_v, v)
        most_u, most_v = max(most_u, u), max(most_v, v)
    across = int(most_v - least_v) + 1
    counts = np.zeros((int(most_u - least_u) + 1) * across, np.int64)
    sums = np.zeros((counts.size, 3))
    for n in range(len(uv)):
        u, v = np.floor(uv[n, 0] / side) - least_u, np.floor(uv[n, 1] / side) - least_v
        number = int(u) * across + int(v)
        counts[number] += 1
        sums[number, 0] += uv[n, 0]
        sums[number, 1] += uv[n, 1]
        sums[number, 2] += level[n]
    full = counts > 0
    return counts[full], sums[full]
