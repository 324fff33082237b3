"""Compiled fit of a line and its neighbours through the blur of the scan, in the scan's own pixels."""

import math

import numpy as np

from proofkit.arrays import Floats, Plane, Points
from proofkit.scan.compiling import kernel

PER_SIGMA = 64
REACH_SIGMAS = 7.0

PARAMETERS = 5
"""Ground, centre, width, depth, blur: in this order."""


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
def _add_bar(u: float, width: float, sigma: float, table: Floats, out: Floats) -> None:
    """Add a bar about 0 blurred by `sigma`, and its derivatives by centre, width and sigma, at `u` to `out`."""
    last = table.shape[1] - 2
    for side in range(2):
        sign = 1.0 - 2.0 * side
        a = (sign * 0.5 * width - u) / sigma
        place = min(max((a + REACH_SIGMAS) * PER_SIGMA, 0.0), float(last))
        k = int(place)
        t = place - k
        whole = table[0, k] + t * (table[0, k + 1] - table[0, k])
        dense = table[1, k] + t * (table[1, k + 1] - table[1, k])
        out[0] += sign * whole
        out[1] += sign * dense / sigma
        out[2] += 0.5 * dense / sigma
        out[3] -= sign * a * dense / sigma


@kernel
def _solve(matrix: Floats, right: Floats, size: int) -> bool:
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
def _gather(
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


@kernel
def fit_crossings(
    plane: Plane,
    centres: Points,
    across: Points,
    along: Points,
    level: Floats,
    window: Floats,
    neighbours: Floats,
    start: Floats,
    is_free: Floats,
    half_along: Floats,
    rounds: int,
    excess: float,
    depth_prior: float,
) -> Floats:
    """Return ground, centre [mm], width [mm], depth, blur [mm], rms residual, pixels and share of each crossing.

    The share is that of what is known of the depth which comes from its prior.

    Parameters
    ----------
    plane : (h, w) uint16
    centres : (n, 2) expected centres. [px]
    across, along : (n, 2) one mm across the line as read, and one px along it. [px]
    level : (n,) level of bare paper. [1/65535]
    window : (n, 2) from where to where pixels are used, from the centre. [mm]
    neighbours : (n, 4) distance of the neighbour at the negative and the positive side [mm], infinite for none, and
        their widths as shares of the line's own.
    start : (n, 5) of the parameters.
    is_free : (5,) 1 for those that are fitted, else 0.
    half_along : (n,) pixels are used up to this far along the line. [px]
    rounds : steps of the fit.
    excess : kurtosis of the blur beyond a normal's; square pixels make it negative.
    depth_prior : noise of a pixel over the spread of depths about its start; 0 leaves depth free.
    """
    n = centres.shape[0]
    out = np.full((n, PARAMETERS + 3), np.nan)
    table = spread_table(excess)
    s, r = np.empty(4096), np.empty(4096)
    shape = np.empty(4)
    gradient = np.empty(PARAMETERS)
    free = np.empty(PARAMETERS, dtype=np.int64)
    matrix, right = np.empty((PARAMETERS, PARAMETERS)), np.empty(PARAMETERS)
    p, trial = np.empty(PARAMETERS), np.empty(PARAMETERS)
    best_matrix, best_right = np.empty((PARAMETERS, PARAMETERS)), np.empty(PARAMETERS)
    for i in range(n):
        count = _gather(
            plane, centres[i, 0], centres[i, 1], across[i], along[i], window[i, 0], window[i, 1],
            half_along[i], 1.0 / level[i], s, r,
        )  # fmt: skip
        size = 0
        for k in range(PARAMETERS):
            p[k] = start[i, k]
            if is_free[k] > 0.0:
                free[size] = k
                size += 1
        if count < size + 3:
            continue
        damping = 1e-3
        best = np.inf
        for k in range(PARAMETERS):
            trial[k] = p[k]
        for _ in range(rounds):
            for a in range(size):
                right[a] = 0.0
                for b in range(size):
                    matrix[a, b] = 0.0
            total = 0.0
            for q in range(count):
                u = s[q] - trial[1]
                shape[:] = 0.0
                _add_bar(u, trial[2], trial[4], table, shape)
                by_width = shape[2]
                for side in range(2):
                    if neighbours[i, side] < 1e9:
                        before = shape[2]
                        offset = (2.0 * side - 1.0) * neighbours[i, side]
                        share = neighbours[i, 2 + side]
                        _add_bar(u - offset, share * trial[2], trial[4], table, shape)
                        by_width += share * (shape[2] - before)
                gradient[0] = 1.0 - trial[3] * shape[0]
                gradient[1] = -trial[0] * trial[3] * shape[1]
                gradient[2] = -trial[0] * trial[3] * by_width
                gradient[3] = -trial[0] * shape[0]
                gradient[4] = -trial[0] * trial[3] * shape[3]
                rest = r[q] - trial[0] * gradient[0]
                total += rest * rest
                for a in range(size):
                    right[a] += gradient[free[a]] * rest
                    for b in range(a + 1):
                        matrix[a, b] += gradient[free[a]] * gradient[free[b]]
            if depth_prior > 0.0:
                a = size - 1 - int(is_free[4])
                rest = depth_prior * (start[i, 3] - trial[3])
                total += rest * rest
                right[a] += depth_prior * rest
                matrix[a, a] += depth_prior * depth_prior
            if total < best:
                done = best - total < 1e-6 * total
                best = total
                damping = max(damping * 0.2, 1e-7)
                for k in range(PARAMETERS):
                    p[k] = trial[k]
                for a in range(size):
                    best_right[a] = right[a]
                    for b in range(a + 1):
                        best_matrix[a, b] = matrix[a, b]
                if done:
                    break
            else:
                damping *= 10.0
                if damping > 1e4:
                    break
            for a in range(size):
                right[a] = best_right[a]
                for b in range(a + 1):
                    matrix[a, b] = best_matrix[a, b]
                matrix[a, a] *= 1.0 + damping
            for k in range(PARAMETERS):
                trial[k] = p[k]
            if not _solve(matrix, right, size):
                break
            for a in range(size):
                trial[free[a]] += right[a]
            trial[0] = min(max(trial[0], 0.05), 1.5)
            reach = 0.5 * min(-window[i, 0], window[i, 1])
            trial[1] = min(max(trial[1], -reach), reach)
            trial[2] = min(max(trial[2], 1e-4), 2.0)
            trial[3] = min(max(trial[3], -0.2), 1.0)
            trial[4] = min(max(trial[4], 0.2 * start[i, 4]), 4.0 * start[i, 4])
        for k in range(PARAMETERS):
            out[i, k] = p[k]
        out[i, PARAMETERS] = math.sqrt(best / max(count - size, 1))
        out[i, PARAMETERS + 1] = count
        out[i, PARAMETERS + 2] = 0.0
        if depth_prior > 0.0:
            a = size - 1 - int(is_free[4])
            for b in range(size):
                right[b] = 1.0 if b == a else 0.0
                for c in range(b + 1):
                    matrix[b, c] = best_matrix[b, c]
            if _solve(matrix, right, size):
                out[i, PARAMETERS + 2] = min(depth_prior * depth_prior * right[a], 1.0)
            else:
                out[i, PARAMETERS + 2] = 1.0
    return out
