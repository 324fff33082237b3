"""Compiled loops over the pieces of an edge and over their places."""

import numpy as np

from proofkit.arrays import Floats
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
        scatter = max(OF_MEDIAN * float(np.median(rest)), LEAST_SCATTER)
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
