"""Compiled fit of a line and its neighbours through the blur of the scan, in the scan's own pixels."""

import math

import numpy as np

from proofkit.arrays import Floats, Index, Plane, Points
from proofkit.measures.bar_kernels import add_bar, dot, gather, solve, spread_table
from proofkit.scan.compiling import kernel

PARAMETERS = 9
"""Ground, centre, width, depth, blur, distances of the neighbours at the negative and the positive side, and their
widths as shares of the line's own: in this order."""

LEANS = 3
"""How depth, ground and width lean on what is held of the depth: in this order."""


SETTLED = 3e-4
"""A fit is over with a step that takes off no more than this share of what the pixels leave, as the slopes foretell: of
a hundred pixels that is a step of a sixth of a standard error, and a further one would be by far smaller. [-]"""

MOST_PIXELS = 4096
"""Pixels of one crossing that are looked at, at most."""


@kernel
def _slopes(
    s: Floats, r: Floats, m: int, p: Floats, table: Floats, sides: Floats, room: Floats, out: Floats
) -> None:
    """Write what ``G (1 - d B)`` leaves of `m` pixels, and its derivatives by the parameters; ink is one of many bars.

    `s` and `r` are places [mm] and R/Rp of the pixels, `room` (10, n) is working memory, `out` (PARAMETERS + 1, n)
    takes derivatives and what is left. Those of neighbours that are not there are left as they are.
    """
    ink = -p[0] * p[3]
    bars, one = room[2:6], room[6:10]
    add_bar(s, m, p[1], p[2], p[4], table, room[:2], bars)
    for side in range(2):
        if sides[side] > 0.0:
            sign, share = 2.0 * side - 1.0, p[7 + side]
            add_bar(s, m, p[1] + sign * p[5 + side], share * p[2], p[4], table, room[:2], one)
            for q in range(m):
                bars[0, q] += one[0, q]
                bars[1, q] += one[1, q]
                bars[2, q] += share * one[2, q]
                bars[3, q] += one[3, q]
                out[5 + side, q] = ink * sign * one[1, q]
                out[7 + side, q] = ink * p[2] * one[2, q]
    for q in range(m):
        light = 1.0 - p[3] * bars[0, q]
        out[0, q] = light
        out[1, q] = ink * bars[1, q]
        out[2, q] = ink * bars[2, q]
        out[3, q] = -p[0] * bars[0, q]
        out[4, q] = ink * bars[3, q]
        out[PARAMETERS, q] = r[q] - p[0] * light


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
    table = spread_table(excess)
    s, r = np.empty(MOST_PIXELS), np.empty(MOST_PIXELS)
    # Rows a little longer than a power of two do not push each other out of the processor's cache.
    room, slopes = np.empty((10, MOST_PIXELS + 8)), np.empty((PARAMETERS + 1, MOST_PIXELS + 8))
    sides = np.empty(2)
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
        damping = 1e-3
        best = np.inf
        for _ in range(rounds):
            _slopes(s, r, count, trial, table, sides, room, slopes)
            rests = slopes[PARAMETERS]
            total = dot(rests, rests, count)
            for a in range(size):
                slope = slopes[free[a]]
                right[a] = dot(slope, rests, count)
                for b in range(a + 1):
                    matrix[a, b] = dot(slope, slopes[free[b]], count)
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
