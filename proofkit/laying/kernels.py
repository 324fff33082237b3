"""Compiled loops of the warp's fit."""

import numpy as np

from proofkit.arrays import Floats, Index, Numbers, Points
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


@kernel
def _weights(t: float, out: Floats) -> None:
    """Write the four uniform cubic B-spline weights at `t` in [0, 1)."""
    out[0] = (1.0 - t) ** 3 / 6.0
    out[1] = (3.0 * t**3 - 6.0 * t**2 + 4.0) / 6.0
    out[2] = (-3.0 * t**3 + 3.0 * t**2 + 3.0 * t + 1.0) / 6.0
    out[3] = t**3 / 6.0


@kernel
def laid_points(points_mm: Points, affine: Floats, warp: Floats, step_mm: float) -> Points:
    """Return (n, 2) places of plate points on a sheet: an affine map (2, 3) and a warp (rows, columns, 2). [px]"""
    rows, columns = warp.shape[0], warp.shape[1]
    out = np.empty((points_mm.shape[0], 2))
    wx, wy = np.empty(4), np.empty(4)
    for n in range(points_mm.shape[0]):
        x, y = points_mm[n, 0], points_mm[n, 1]
        # A NaN is no place; it must not become an index either.
        u = min(x / step_mm, columns - 3 - 1e-9) if x > 0.0 else 0.0
        v = min(y / step_mm, rows - 3 - 1e-9) if y > 0.0 else 0.0
        i, j = int(u), int(v)
        _weights(u - i, wx)
        _weights(v - j, wy)
        to_x = affine[0, 0] * x + affine[0, 1] * y + affine[0, 2]
        to_y = affine[1, 0] * x + affine[1, 1] * y + affine[1, 2]
        for b in range(4):
            for a in range(4):
                w = wy[b] * wx[a]
                to_x += w * warp[j + b, i + a, 0]
                to_y += w * warp[j + b, i + a, 1]
        out[n, 0] = to_x
        out[n, 1] = to_y
    return out


@kernel
def running_median(values: Floats, line: Numbers, half_width: int) -> Floats:
    """Return the median of the values of each line over ``2 half_width + 1`` points, NaN passed over; NaN for none."""
    n = values.size
    out = np.full(n, np.nan)
    held = np.empty(2 * half_width + 1)
    for i in range(n):
        count = 0
        for j in range(max(i - half_width, 0), min(i + half_width + 1, n)):
            value = values[j]
            if line[j] != line[i] or np.isnan(value):
                continue
            k = count
            while k > 0 and held[k - 1] > value:
                held[k] = held[k - 1]
                k -= 1
            held[k] = value
            count += 1
        if count:
            out[i] = (held[(count - 1) // 2] + held[count // 2]) / 2.0
    return out
