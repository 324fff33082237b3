"""Compiled loops over the pieces of an edge and over their places."""

import numpy as np

from proofkit.arrays import Floats
from proofkit.frame.medians import median, median_of
from proofkit.scan.compiling import kernel
from proofkit.scatter import OF_MEDIAN

HUBER = 1.5
TUKEY = 4.685
"""Turning points of the two weights, in scatters (textbook)."""

LEAST_SCATTER = 0.02
"""Places agree no better than this. [px]"""


@kernel
def least_squares(design: Floats, values: Floats) -> Floats:
    """Return the coefficients (k,) of a design (n, k) with the least squares of what is left, by reflections.

    Both are overwritten. A column that says nothing beside those before it gets a coefficient of 0.
    """
    n, k = design.shape
    for j in range(k):
        norm = 0.0
        for i in range(j, n):
            norm += design[i, j] ** 2
        norm = np.sqrt(norm)
        if norm == 0.0:
            continue
        head = design[j, j] + (norm if design[j, j] > 0.0 else -norm)
        # Reflection along (head, rest of the column), whose half square length is norm * abs(head).
        half = norm * abs(head)
        for c in range(j + 1, k + 1):
            total = head * (design[j, c] if c < k else values[j])
            for i in range(j + 1, n):
                total += design[i, j] * (design[i, c] if c < k else values[i])
            share = total / half
            if c < k:
                design[j, c] -= share * head
                for i in range(j + 1, n):
                    design[i, c] -= share * design[i, j]
            else:
                values[j] -= share * head
                for i in range(j + 1, n):
                    values[i] -= share * design[i, j]
        design[j, j] -= head  # what the reflection leaves of the column: its length, with the other sign
    found = np.zeros(k)
    largest = 0.0
    for j in range(k):
        largest = max(largest, abs(design[j, j]))
    for j in range(k - 1, -1, -1):
        if abs(design[j, j]) > 1e-12 * largest:
            rest = values[j]
            for c in range(j + 1, k):
                rest -= design[j, c] * found[c]
            found[j] = rest / design[j, j]
    return found


@kernel
def own_length(design: Floats) -> float:
    """Return the length of what the last column of a design (n, k) has beside the others.

    One over it is the standard error of its coefficient, for values of standard deviation 1 (textbook).
    """
    n, k = design.shape
    others = design[:, : k - 1].copy()
    last = design[:, k - 1].copy()
    shares = least_squares(others.copy(), last.copy())
    total = 0.0
    for i in range(n):
        rest = last[i]
        for j in range(k - 1):
            rest -= shares[j] * others[i, j]
        total += rest * rest
    return max(float(np.sqrt(total)), 1e-12)


@kernel
def robust(design: Floats, values: Floats, turns: int) -> tuple[Floats, float]:
    """Return coefficients and scatter of a robust linear fit.

    Huber's weights in the first half of the turns, as they always converge, then Tukey's, which drop what is far off
    altogether.
    """
    n, k = design.shape
    weights = np.ones(n)
    rest = np.empty(n)
    weighted, targets = np.empty((n, k)), np.empty(n)
    coefficients = np.zeros(k)
    scatter = 1.0
    for turn in range(turns):
        for i in range(n):
            root = np.sqrt(weights[i])
            targets[i] = values[i] * root
            for j in range(k):
                weighted[i, j] = design[i, j] * root
        coefficients = least_squares(weighted, targets)
        for i in range(n):
            fitted = 0.0
            for j in range(k):
                fitted += design[i, j] * coefficients[j]
            rest[i] = abs(values[i] - fitted)
        scatter = max(OF_MEDIAN * median(rest), LEAST_SCATTER)
        for i in range(n):
            if turn < turns // 2:
                weights[i] = min(1.0, HUBER * scatter / max(rest[i], 1e-9))
            else:
                weights[i] = max(0.0, 1.0 - (rest[i] / (TUKEY * scatter)) ** 2) ** 2
    return coefficients, scatter


@kernel
def steepnesses(density: Floats, lever: Floats, slants: Floats, most: float) -> Floats:
    """Return (slants,) how steep the mean profile is when pieces (n, m) are moved by slant times lever (n,) samples.

    Densities are cut to -most .. most; steepness is the sum of squared differences of neighbouring samples.
    """
    n, m = density.shape
    found = np.empty(slants.size)
    mean = np.empty(m)
    for s in range(slants.size):
        mean[:] = 0.0
        for i in range(n):
            moved = int(np.rint(slants[s] * lever[i]))
            for k in range(m):
                mean[k] += min(max(density[i, min(max(k + moved, 0), m - 1)], -most), most)
        total = 0.0
        for k in range(1, m):
            total += ((mean[k] - mean[k - 1]) / n) ** 2
        found[s] = total
    return found


@kernel
def moved_by(density: Floats, shifts: Floats) -> Floats:
    """Return profiles (n, m) read `shifts` (n,) samples farther on, linear between samples, held at their ends."""
    n, m = density.shape
    out = np.empty((n, m))
    for i in range(n):
        for k in range(m):
            at = min(max(k + shifts[i], 0.0), m - 1.0)
            low = min(int(at), m - 2)
            before = density[i, low]
            out[i, k] = before + (at - low) * (density[i, low + 1] - before)
    return out


@kernel
def weights_about(
    density: Floats, middle: Floats, off_mm: Floats, outside_mm: float, inside_mm: float
) -> Floats:
    """Return the weight of each sample about a mark: inverse square of its scatter over the pieces.

    So image inside the window counts little.

    Parameters
    ----------
    density : (n, m)
        Pieces.
    middle : (m,)
        Their median profile.
    off_mm : (m,)
        Distance from the mark, inward positive; beyond `outside_mm` and `inside_mm` the weight is 0.
    """
    n, m = density.shape
    scatter = np.empty(m)
    column = np.empty(n)
    for k in range(m):
        for i in range(n):
            column[i] = abs(density[i, k] - middle[k])
        scatter[k] = OF_MEDIAN * median_of(column)
    least = 0.5 * median(scatter) + 1e-6
    weights = np.zeros(m)
    for k in range(m):
        if -outside_mm < off_mm[k] < inside_mm:
            weights[k] = 1.0 / max(scatter[k], least) ** 2
    return weights


@kernel
def projected(density: Floats, middle: Floats, weights: Floats) -> tuple[Floats, float]:
    """Return how far pieces (n, m) lie inward of a profile (m,), by its slope, and the error of each. [samples]

    `weights` (m,) of the samples are their inverse variances, of which the standard error is made.
    """
    n, m = density.shape
    soft = middle.copy()
    for k in range(m):
        before, after = middle[max(k - 1, 0)], middle[min(k + 1, m - 1)]
        soft[k] = 0.25 * (before + after) + 0.5 * middle[k]
    power = 0.0
    lean = np.empty(m)
    for k in range(m):
        low, high = max(k - 1, 0), min(k + 1, m - 1)
        slope = (soft[high] - soft[low]) / (high - low)
        lean[k] = weights[k] * slope
        power += weights[k] * slope * slope
    power = max(power, 1e-12)
    shifts = np.empty(n)
    for i in range(n):
        total = 0.0
        for k in range(m):
            total += (density[i, k] - middle[k]) * lean[k]
        shifts[i] = -total / power
    return shifts, 1.0 / np.sqrt(power)


@kernel
def costs_of_shifts(density: Floats, middle: Floats, weights: Floats, most: int, cut: float) -> Floats:
    """Return the weighted squares by which pieces (n, m), moved by -most .. most samples, differ from a profile.

    (n, 2 * most + 1); differences count up to `cut`, samples within `most` of the ends not at all.
    """
    n, m = density.shape
    costs = np.zeros((n, 2 * most + 1))
    for i in range(n):
        for s in range(-most, most + 1):
            total = 0.0
            for k in range(most, m - most):
                off = min(max(density[i, k + s] - middle[k], -cut), cut)
                total += weights[k] * off * off
            costs[i, s + most] = total
    return costs
