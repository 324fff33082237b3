"""Compiled smoothing, correlation and levels of short profiles."""

import numpy as np

from proofkit.arrays import Floats
from proofkit.frame.medians import median
from proofkit.scan.compiling import kernel


@kernel
def smoothed(values: Floats, sigma: float) -> Floats:
    """Return values (n,), held on beyond their ends, smoothed by a normal curve that is cut at 4 sigma. [samples]"""
    reach = int(4.0 * sigma + 0.5)
    weights = np.exp(-0.5 / (sigma * sigma) * np.arange(-reach, reach + 1.0) ** 2)
    weights /= weights.sum()
    found = np.zeros(values.size)
    for k in range(values.size):
        total = 0.0
        for j in range(-reach, reach + 1):
            total += weights[j + reach] * values[min(max(k + j, 0), values.size - 1)]
        found[k] = total
    return found


@kernel
def correlated(values: Floats, weights: Floats) -> Floats:
    """Return the correlation of values (n,) with weights (an odd number) about each; beyond the ends lies nothing."""
    n, reach = values.size, weights.size // 2
    found = np.zeros(n)
    for k in range(n):
        total = 0.0
        for j in range(max(-reach, -k), min(reach, n - 1 - k) + 1):
            total += weights[j + reach] * values[k + j]
        found[k] = total
    return found


@kernel
def level_inside(smooth: Floats, place: float, first_mm: float, last_mm: float, pitch: float) -> float:
    """Return the median from `first_mm` to `last_mm` inside `place`, as far as the profile reaches. [D]"""
    first = min(max(round(place + first_mm / pitch), 0), smooth.size - 1)
    return median(smooth[first : max(first + 1, round(place + last_mm / pitch) + 1)])
