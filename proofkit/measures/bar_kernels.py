"""Compiled parts of the fits of lines: bars seen through the blur of a scan, small linear systems, pixels of a band."""

import math

import numpy as np

from proofkit.arrays import Floats, Plane
from proofkit.scan.compiling import kernel

PER_SIGMA = 64
REACH_SIGMAS = 7.0


@kernel
def spread_table(excess: float) -> Floats:
    """Return the distribution function and density of the blur in sigmas, (2, n), every 1/64 from -7 to 7.

    A normal with its first correction for an `excess` kurtosis (Edgeworth; Kendall and Stuart, vol. 1): square pixels
    have flatter tails than a normal of the same variance.
    """
    n = int(2 * REACH_SIGMAS * PER_SIGMA) + 2
    table = np.empty((2, n))
    for k in range(n):
        x = k / PER_SIGMA - REACH_SIGMAS
        dense = math.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi)
        table[0, k] = 0.5 * math.erfc(-x / math.sqrt(2.0)) - excess / 24.0 * (x * x * x - 3.0 * x) * dense
        table[1, k] = dense * (1.0 + excess / 24.0 * (x**4 - 6.0 * x * x + 3.0))
    return table


@kernel
def add_bar(
    s: Floats, m: int, centre: float, width: float, sigma: float, table: Floats, room: Floats, out: Floats
) -> None:
    """Write a bar blurred by `sigma`, and its derivatives by centre, width and sigma, at `m` places.

    Parameters
    ----------
    s : (n,), n >= m
        Places. [mm]
    centre, width, sigma : float
        [mm]
    table : Floats
        From `spread_table`.
    room : (2, n)
        Working memory.
    out : (4, n)
        The bar and the derivatives, in that order.
    """
    wholes, denses = table[0], table[1]
    last, per, half = float(table.shape[1] - 2), 1.0 / sigma, 0.5 * width
    one, right, left = np.uint64(1), room[0], room[1]
    bar, by_centre, by_width, by_sigma = out[0], out[1], out[2], out[3]
    for q in range(m):
        u = s[q] - centre
        right[q], left[q] = (half - u) * per, (-half - u) * per
    for q in range(m):
        a, b = right[q], left[q]
        place = min(max((a + REACH_SIGMAS) * PER_SIGMA, 0.0), last)
        before = np.int32(place)
        t, k = place - before, np.uint64(before)
        whole = wholes[k] + t * (wholes[k + one] - wholes[k])
        dense = (denses[k] + t * (denses[k + one] - denses[k])) * per
        place = min(max((b + REACH_SIGMAS) * PER_SIGMA, 0.0), last)
        before = np.int32(place)
        t, k = place - before, np.uint64(before)
        other = (denses[k] + t * (denses[k + one] - denses[k])) * per
        bar[q] = whole - (wholes[k] + t * (wholes[k + one] - wholes[k]))
        by_centre[q] = dense - other
        by_width[q] = 0.5 * (dense + other)
        by_sigma[q] = b * other - a * dense


@kernel
def dot(x: Floats, y: Floats, m: int) -> float:
    """Return the sum of the products of `m` values; four sums side by side do not wait for each other."""
    a, b, c, d = 0.0, 0.0, 0.0, 0.0
    whole = m - m % 4
    for q in range(0, whole, 4):
        a += x[q] * y[q]
        b += x[q + 1] * y[q + 1]
        c += x[q + 2] * y[q + 2]
        d += x[q + 3] * y[q + 3]
    for q in range(whole, m):
        a += x[q] * y[q]
    return (a + b) + (c + d)


@kernel
def solve(matrix: Floats, right: Floats, size: int) -> bool:
    """Solve in place by Cholesky's method; False when the matrix is not positive."""
    for i in range(size):
        for j in range(i + 1):
            total = matrix[i, j]
            for k in range(j):
                total -= matrix[i, k] * matrix[j, k]
            if i == j:
                if total <= 0.0:
                    return False
                matrix[i, i] = math.sqrt(total)
            else:
                matrix[i, j] = total / matrix[j, j]
    for i in range(size):
        total = right[i]
        for k in range(i):
            total -= matrix[i, k] * right[k]
        right[i] = total / matrix[i, i]
    for i in range(size - 1, -1, -1):
        total = right[i]
        for k in range(i + 1, size):
            total -= matrix[k, i] * right[k]
        right[i] = total / matrix[i, i]
    return True


@kernel
def gather(
    plane: Plane,
    x0: float,
    y0: float,
    across: Floats,
    along: Floats,
    low: float,
    high: float,
    half_along: float,
    gain: float,
    s: Floats,
    r: Floats,
) -> int:
    """Fill places across the line [mm] and R/Rp of the pixels of a band; return how many, -1 beyond the scan."""
    h, w = plane.shape
    # Pixels as (s, t): x = x0 + s across_x + t along_x, with t in px along the line.
    det = across[0] * along[1] - across[1] * along[0]
    left = right = x0
    top = bottom = y0
    for i in range(2):
        for j in range(2):
            ss = low if i == 0 else high
            tt = -half_along if j == 0 else half_along
            x = x0 + ss * across[0] + tt * along[0]
            y = y0 + ss * across[1] + tt * along[1]
            left, right = min(left, x), max(right, x)
            top, bottom = min(top, y), max(bottom, y)
    if left < 0.0 or top < 0.0 or right > w - 1.0 or bottom > h - 1.0:
        return -1
    count = 0
    for row in range(int(math.ceil(top)), int(math.floor(bottom)) + 1):
        dy = row - y0
        for column in range(int(math.ceil(left)), int(math.floor(right)) + 1):
            dx = column - x0
            t = (across[0] * dy - across[1] * dx) / det
            if t < -half_along or t >= half_along:
                continue
            place = (dx * along[1] - dy * along[0]) / det
            if place < low or place > high or count == s.size:
                continue
            s[count] = place
            r[count] = plane[row, column] * gain
            count += 1
    return count
