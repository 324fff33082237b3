"""Compiled parts of the fits of lines: bars seen through the blur of a scan, sums, linear systems, pixels of a band."""

import math

import numpy as np

from proofkit.arrays import Floats, Picture, Plane
from proofkit.scan.compiling import kernel, wide_kernel

REACH_SIGMAS = 7.0
"""Farther from an edge than this nothing of it is left: 1e-12. [blur sigmas]"""

ROOT = 1.0 / math.sqrt(2.0 * math.pi)


@wide_kernel
def add_bar(
    s: Picture, m: int, centre: float, width: float, sigma: float, excess: float, out: Picture
) -> None:
    """Write a bar blurred by `sigma`, and its derivatives by centre, width and sigma, at `m` places.

    Parameters
    ----------
    s : (n,) float32, n >= m
        Places. [mm]
    centre, width, sigma : float
        [mm]
    excess : float
        Kurtosis of the blur beyond a normal's. [-]
    out : (4, n) float32
        The bar and the derivatives, in that order.

    Notes
    -----
    The density of the blur is a normal's by seven terms of its exponential's series at a 64th of the exponent, squared
    six times. Its distribution function comes from the density by Abramowitz and Stegun, Handbook of Mathematical
    Functions, 26.2.17 (7.5e-8 off at most); both with their first correction for an `excess` (Edgeworth; Kendall and
    Stuart, vol. 1): square pixels have flatter tails than a normal of the same variance. In 32 bits all this is right
    to 2e-6, and pixels are worked out side by side.
    """
    middle, half, per = np.float32(centre), np.float32(0.5 * width), np.float32(1.0 / sigma)
    bend, far, share = np.float32(excess / 24.0), np.float32(REACH_SIGMAS), np.float32(0.5)
    bar, by_centre, by_width, by_sigma = out[0], out[1], out[2], out[3]
    for q in range(m):
        u = s[q] - middle
        right = min(max((half - u) * per, -far), far)
        left = min(max((-half - u) * per, -far), far)
        whole, dense = _edge(right, bend)
        other, there = _edge(left, bend)
        dense *= per
        there *= per
        bar[q] = whole - other
        by_centre[q] = dense - there
        by_width[q] = share * (dense + there)
        by_sigma[q] = left * there - right * dense


@wide_kernel
def _edge(x: np.float32, bend: np.float32) -> tuple[np.float32, np.float32]:
    """Return the blur's distribution function and density at `x` sigmas, see `add_bar`."""
    one, three, six = np.float32(1.0), np.float32(3.0), np.float32(6.0)
    xx = x * x
    v = xx * np.float32(-0.5 / 64.0)
    series = np.float32(1 / 24) + v * (np.float32(1 / 120) + v * np.float32(1 / 720))
    dense = one + v * (one + v * (np.float32(1 / 2) + v * (np.float32(1 / 6) + v * series)))
    for _ in range(6):
        dense *= dense
    dense *= np.float32(ROOT)
    t = one / (one + np.float32(0.2316419) * abs(x))
    tail = np.float32(1.781477937) + t * (np.float32(-1.821255978) + t * np.float32(1.330274429))
    tail = dense * t * (np.float32(0.319381530) + t * (np.float32(-0.356563782) + t * tail))
    whole = one - tail if x > np.float32(0.0) else tail
    return whole - bend * x * (xx - three) * dense, dense * (one + bend * ((xx - six) * xx + three))


@wide_kernel
def add_products(rows: Picture, a: int, b: int, m: int, out: Floats) -> None:
    """Write the sums of the products of three rows from `a` on with three from `b` on, over `m` values, into `out`.

    All nine together, as each of the six values that they need is then read once.
    """
    p, q, r, x, y, z = rows[a], rows[a + 1], rows[a + 2], rows[b], rows[b + 1], rows[b + 2]
    px = py = pz = qx = qy = qz = rx = ry = rz = np.float32(0.0)
    for k in range(m):
        px += p[k] * x[k]
        py += p[k] * y[k]
        pz += p[k] * z[k]
        qx += q[k] * x[k]
        qy += q[k] * y[k]
        qz += q[k] * z[k]
        rx += r[k] * x[k]
        ry += r[k] * y[k]
        rz += r[k] * z[k]
    out[a, b], out[a, b + 1], out[a, b + 2] = px, py, pz
    out[a + 1, b], out[a + 1, b + 1], out[a + 1, b + 2] = qx, qy, qz
    out[a + 2, b], out[a + 2, b + 1], out[a + 2, b + 2] = rx, ry, rz


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
    s: Picture,
    r: Picture,
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
        # Only what lies between the sides of the band, and a pixel more, is asked.
        first, last = _between(across[0] * dy, across[1], -half_along * det, half_along * det)
        begin, end = _between(-along[0] * dy, -along[1], low * det, high * det)
        first, last = max(first, begin, left - x0) - 1.0, min(last, end, right - x0) + 1.0
        for column in range(int(math.ceil(x0 + first)), int(math.floor(x0 + last)) + 1):
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


@kernel
def _between(start: float, slope: float, one: float, other: float) -> tuple[float, float]:
    """Return between which dx ``start - slope dx`` lies between two values; anywhere where it hardly changes."""
    if abs(slope) < 1e-6:
        return -np.inf, np.inf
    a, b = (start - one) / slope, (start - other) / slope
    return min(a, b), max(a, b)
