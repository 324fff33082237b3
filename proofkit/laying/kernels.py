"""Compiled loops of the warp's fit."""

import numpy as np

from proofkit.arrays import Floats, Index, Numbers, Points
from proofkit.scan.compiling import kernel


@kernel
def add_observations(
    order: Index,
    i: Index,
    j: Index,
    wx: Floats,
    wy: Floats,
    weights: Floats,
    say: Floats,
    targets: Points,
    columns: int,
    band: Floats,
    right: Floats,
) -> None:
    """Add observations to normal equations of a B-spline, kept as the lower band of a symmetric matrix.

    Unknown ``2 (row * columns + column) + axis``. `order` (n,) are numbers of the observations, those with the same
    first control next to each other: their sums stay in one small table and are then added at once. `i`, `j` (n,)
    first control column and row; `wx`, `wy` (4, n) B-spline weights; `weights` (n, 2, 2), symmetric, times `say` (n,);
    `targets` (n, 2); `band` (unknowns, width) and `right` are added to: ``band[k, m]`` is the matrix at row k + m,
    column k.
    """
    sums, pulls, one = np.empty((16, 3, 16)), np.empty((2, 16)), np.empty(16)
    begin = 0
    while begin < order.size:
        column, row = i[order[begin]], j[order[begin]]
        sums[:] = 0.0
        pulls[:] = 0.0
        end = begin
        while end < order.size and i[order[end]] == column and j[order[end]] == row:
            n = order[end]
            xx, xy, yy = say[n] * weights[n, 0, 0], say[n] * weights[n, 0, 1], say[n] * weights[n, 1, 1]
            pull_x = xx * targets[n, 0] + xy * targets[n, 1]
            pull_y = xy * targets[n, 0] + yy * targets[n, 1]
            for b in range(4):
                for a in range(4):
                    one[4 * b + a] = wy[b, n] * wx[a, n]
            for p in range(16):
                pulls[0, p] += one[p] * pull_x
                pulls[1, p] += one[p] * pull_y
                to_xx, to_xy, to_yy = one[p] * xx, one[p] * xy, one[p] * yy
                of_xx, of_xy, of_yy = sums[p, 0], sums[p, 1], sums[p, 2]
                for q in range(16):
                    of_xx[q] += to_xx * one[q]
                    of_xy[q] += to_xy * one[q]
                    of_yy[q] += to_yy * one[q]
            end += 1
        _add_sums(sums, pulls, row * columns + column, columns, band, right)
        begin = end


@kernel
def _add_sums(sums: Floats, pulls: Floats, start: int, columns: int, band: Floats, right: Floats) -> None:
    """Add the sums over the observations of one cell, whose first control is number `start`."""
    for p in range(16):
        first = 2 * (start + p // 4 * columns + p % 4)
        right[first] += pulls[0, p]
        right[first + 1] += pulls[1, p]
        for q in range(p + 1):
            second = 2 * (start + q // 4 * columns + q % 4)
            band[second, first - second] += sums[p, 0, q]
            band[second, first - second + 1] += sums[p, 1, q]
            band[second + 1, first - second] += sums[p, 2, q]
            if p > q:
                band[second + 1, first - second - 1] += sums[p, 1, q]


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
