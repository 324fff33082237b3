"""Compiled loops of the warp's fit."""

import numpy as np

from proofkit.arrays import Floats, Index, Points
from proofkit.scan.compiling import kernel


@kernel
def add_observations(
    i: Index,
    j: Index,
    wx: Floats,
    wy: Floats,
    weights: Floats,
    targets: Points,
    columns: int,
    band: Floats,
    right: Floats,
) -> None:
    """Add observations to normal equations of a B-spline, kept as the lower band of a symmetric matrix.

    Unknown ``2 (row * columns + column) + axis``. `i`, `j` (n,) first control column and row; `wx`, `wy` (4, n)
    B-spline weights; `weights` (n, 2, 2); `targets` (n, 2); `band` (width, unknowns) and `right` are added to.
    """
    for n in range(i.size):
        pull_x = weights[n, 0, 0] * targets[n, 0] + weights[n, 0, 1] * targets[n, 1]
        pull_y = weights[n, 1, 0] * targets[n, 0] + weights[n, 1, 1] * targets[n, 1]
        for b in range(4):
            for a in range(4):
                one = wy[b, n] * wx[a, n]
                first = 2 * ((j[n] + b) * columns + i[n] + a)
                right[first] += one * pull_x
                right[first + 1] += one * pull_y
                for d in range(4):
                    for c in range(4):
                        second = 2 * ((j[n] + d) * columns + i[n] + c)
                        if second > first:
                            continue
                        both = one * wy[d, n] * wx[c, n]
                        band[first - second, second] += both * weights[n, 0, 0]
                        band[first + 1 - second, second] += both * weights[n, 1, 0]
                        band[first - second, second + 1] += both * weights[n, 1, 1]
                        if first > second:
                            band[first - second - 1, second + 1] += both * weights[n, 0, 1]


@kernel
def spline_values(i: Index, j: Index, wx: Floats, wy: Floats, controls: Floats) -> Points:
    """Return (n, 2) values of a B-spline with `controls` (rows, columns, 2)."""
    out = np.zeros((i.size, 2))
    for n in range(i.size):
        for b in range(4):
            for a in range(4):
                w = wy[b, n] * wx[a, n]
                out[n, 0] += w * controls[j[n] + b, i[n] + a, 0]
                out[n, 1] += w * controls[j[n] + b, i[n] + a, 1]
    return out
