"""Compiled fit of a line and its neighbours through the blur of the scan, in the scan's own pixels."""

import math

import numpy as np

from proofkit.arrays import Floats, Index, Picture, Plane, Points
from proofkit.measures.bar_kernels import add_bar, add_products, gather, solve
from proofkit.scan.compiling import kernel, wide_kernel

PARAMETERS = 9
"""Ground, centre, width, depth, blur, distances of the neighbours at the negative and the positive side, and their
widths as shares of the line's own: in this order."""

REST, LIGHT, BARS, BESIDE, ASIDE = 0, 1, 2, 6, 12
ROW_OF = (1, 3, 4, 2, 5, 6, 8, 7, 9)
"""Rows of what is worked out for the pixels of a crossing: what the model leaves of them, the light that the lines let
through, then bar and derivatives by centre, width and blur of all bars, the derivatives by centre and width of each
neighbour's, and room for one; and the row that each parameter's derivative is made from."""

LEANS = 3
"""How depth, ground and width lean on what is held of the depth: in this order."""


SETTLED = 3e-4
"""A fit is over with a step that takes off no more than this share of what the pixels leave, as the slopes foretell: of
a hundred pixels that is a step of a sixth of a standard error, and a further one would be by far smaller. [-]"""

MOST_PIXELS = 4096
"""Pixels of one crossing that are looked at, at most..."""

AT_ONCE = 16
"""... and so many are worked out side by side: those beyond a crossing's own are left out of its sums."""


@wide_kernel
def _slopes(
    s: Picture, r: Picture, m: int, p: Floats, excess: float, sides: Floats, rows: Picture, factors: Floats
) -> None:
    """Write what ``G (1 - d B)`` leaves of `m` pixels, and its derivatives by the parameters; ink is one of many bars.

    `s` and `r` are places [mm] and R/Rp of the pixels. What is left goes to ``rows[REST]``, the derivative by each
    parameter to ``rows[ROW_OF[k]]``, short of a factor that is the same for all pixels, in `factors` (PARAMETERS,).
    """
    ground, depth, one = np.float32(p[0]), np.float32(p[3]), np.float32(1.0)
    rest, light = rows[REST], rows[LIGHT]
    add_bar(s, m, p[1], p[2], p[4], excess, rows[BARS : BARS + 4])
    ink = -p[0] * p[3]
    factors[0], factors[1], factors[2], factors[3], factors[4] = 1.0, ink, ink, -p[0], ink
    for side in range(2):
        if sides[side] > 0.0:
            sign, share = 2.0 * side - 1.0, p[7 + side]
            add_bar(s, m, p[1] + sign * p[5 + side], share * p[2], p[4], excess, rows[ASIDE : ASIDE + 4])
            factors[5 + side], factors[7 + side] = sign * ink, p[2] * ink
            for k in range(4):
                own, its, by = rows[BARS + k], rows[ASIDE + k], np.float32(share if k == 2 else 1.0)
                for q in range(m):
                    own[q] += by * its[q]
            for k in range(2):
                kept, its = rows[BESIDE + 2 * side + k], rows[ASIDE + 1 + k]
                for q in range(m):
                    kept[q] = its[q]
    bar = rows[BARS]
    for q in range(m):
        left = one - depth * bar[q]
        light[q] = left
        rest[q] = r[q] - ground * left


@kernel
def _sums(rows: Picture, count: int, m: int, out: Floats) -> None:
    """Write the sums of products of all pairs of the first `count` rows over `m` pixels, those of the lower half."""
    for a in range(0, count, 3):
        for b in range(0, a + 1, 3):
            add_products(rows, a, b, m, out)


@kernel
def _leans(matrix: Floats, free: Index, size: int, prior: float, right: Floats, out: Floats) -> None:
    """Write how depth, ground and width lean on what is held of the depth; the matrix is lost."""
    out[0], out[1], out[2] = 1.0, 0.0, 0.0
    for b in range(size):
        right[b] = prior * prior if free[b] == 3 else 0.0
    if not solve(matrix, right, size):
        return
    for b in range(size):
        if free[b] == 3:
            out[0] = min(right[b], 1.0)
        elif free[b] == 0:
            out[1] = right[b]
        elif free[b] == 2:
            out[2] = right[b]


@kernel
def _keep_within(p: Floats, start: Floats, window: Floats) -> None:
    """Bring parameters back to where they may lie; lengths in mm."""
    reach = 0.5 * min(-window[0], window[1])
    p[0] = min(max(p[0], 0.05), 1.5)
    p[1] = min(max(p[1], -reach), reach)
    p[2] = min(max(p[2], 1e-4), 2.0)
    p[3] = min(max(p[3], -0.2), 1.0)
    p[4] = min(max(p[4], 0.2 * start[4]), 4.0 * start[4])
    for side in range(2):
        p[7 + side] = min(max(p[7 + side], 0.1), 10.0)


@kernel
def fit_crossings(
    plane: Plane,
    centres: Points,
    across: Points,
    along: Points,
    level: Floats,
    window: Floats,
    start: Floats,
    is_free: Floats,
    held: Floats,
    half_along: Floats,
    rounds: int,
    excess: float,
) -> Floats:
    """Return the parameters of each crossing, rms residual, pixels, and its leans.

    The last three columns are by how much depth, ground and width [mm] move when the depth near which they are held
    moves by one: the first of them is the share of what is known of the depth that comes from there.

    Parameters
    ----------
    plane : (h, w) uint16
    centres : (n, 2) expected centres. [px]
    across, along : (n, 2) one mm across the line as read, and one px along it. [px]
    level : (n,) level of bare paper. [1/65535]
    window : (n, 2) from where to where pixels are used, from the centre. [mm]
    start : (n, PARAMETERS) of the parameters; a distance is infinite where no line stands beside.
    is_free : (PARAMETERS,) 1 for those that are fitted, else 0.
    held : (PARAMETERS,) noise of a pixel over the spread of the parameters about their start; 0 for those that are not
        held.
    half_along : (n,) pixels are used up to this far along the line. [px]
    rounds : steps of the fit at most.
    excess : kurtosis of the blur beyond a normal's; square pixels make it negative.
    """
    n = centres.shape[0]
    out = np.full((n, PARAMETERS + 2 + LEANS), np.nan)
    s, r = np.zeros(MOST_PIXELS, dtype=np.float32), np.zeros(MOST_PIXELS, dtype=np.float32)
    # Rows a little longer than a power of two do not push each other out of the processor's cache.
    rows, sums = np.zeros((ASIDE + 4, MOST_PIXELS + AT_ONCE), dtype=np.float32), np.empty((ASIDE, ASIDE))
    sides, factors = np.empty(2), np.empty(PARAMETERS)
    free = np.empty(PARAMETERS, dtype=np.intp)
    matrix, right = np.empty((PARAMETERS, PARAMETERS)), np.empty(PARAMETERS)
    p, trial = np.empty(PARAMETERS), np.empty(PARAMETERS)
    best_matrix, best_right = np.empty((PARAMETERS, PARAMETERS)), np.empty(PARAMETERS)
    for i in range(n):
        count = gather(
            plane, centres[i, 0], centres[i, 1], across[i], along[i], window[i, 0], window[i, 1],
            half_along[i], 1.0 / level[i], s, r,
        )  # fmt: skip
        size = 0
        for side in range(2):
            sides[side] = 1.0 if start[i, 5 + side] < 1e9 else 0.0
        for k in range(PARAMETERS):
            p[k] = start[i, k]
            trial[k] = p[k]
            if is_free[k] > 0.0 and (k < 5 or sides[(k - 5) % 2] > 0.0):
                free[size] = k
                size += 1
        own = 0
        for a in range(size):
            if held[free[a]] == 0.0:
                own += 1
        if count < own + 3:
            continue
        whole = (count + AT_ONCE - 1) // AT_ONCE * AT_ONCE
        damping = 1e-3
        best = np.inf
        for _ in range(rounds):
            _slopes(s, r, whole, trial, excess, sides, rows, factors)
            _sums(rows, ASIDE if sides.any() else BESIDE, count, sums)
            total = sums[REST, REST]
            for a in range(size):
                row, factor = ROW_OF[free[a]], factors[free[a]]
                right[a] = factor * sums[row, REST]
                for b in range(a + 1):
                    other = ROW_OF[free[b]]
                    matrix[a, b] = factor * factors[free[b]] * sums[max(row, other), min(row, other)]
            for a in range(size):
                prior = held[free[a]]
                if prior > 0.0:
                    rest = prior * (start[i, free[a]] - trial[free[a]])
                    total += rest * rest
                    right[a] += prior * rest
                    matrix[a, a] += prior * prior
            if total < best:
                best = total
                damping = max(damping * 0.2, 1e-7)
                for k in range(PARAMETERS):
                    p[k] = trial[k]
                for a in range(size):
                    best_right[a] = right[a]
                    for b in range(a + 1):
                        best_matrix[a, b] = matrix[a, b]
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
            if not solve(matrix, right, size):
                break
            gain = 0.0
            for a in range(size):
                trial[free[a]] += right[a]
                gain += right[a] * best_right[a]
            _keep_within(trial, start[i], window[i])
            if gain < SETTLED * best:
                for k in range(PARAMETERS):
                    p[k] = trial[k]
                break
        for k in range(PARAMETERS):
            out[i, k] = p[k]
        out[i, PARAMETERS] = math.sqrt(best / max(count - own, 1))
        out[i, PARAMETERS + 1] = count
        out[i, PARAMETERS + 2 :] = 0.0
        if held[3] > 0.0:
            _leans(best_matrix, free, size, held[3], right, out[i, PARAMETERS + 2 :])
    return out
