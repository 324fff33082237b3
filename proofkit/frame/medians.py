"""Medians of short arrays, compiled: they are asked for inside loops over the pieces of an edge."""

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats
from proofkit.scan.compiling import kernel

SHORT = 24
"""Fewer values than this are sorted one by one."""


@kernel
def median_of(values: npt.NDArray[np.floating]) -> float:
    """Return the median of values (n,), of which there is one at least and none NaN; they are left in another order."""
    half = values.size // 2
    first, last = 0, values.size - 1
    while last - first >= SHORT:
        low, high = _parted(values, first, last)
        if half <= high:
            last = high
        elif half >= low:
            first = low
        else:
            first = last = half
    put_in_order(values, first, last)
    if values.size % 2:
        return float(values[half])
    below = values[0]
    for k in range(1, half):
        below = max(below, values[k])
    return float(0.5 * (below + values[half]))


@kernel
def put_in_order(values: npt.NDArray[np.floating], first: int, last: int) -> None:
    """Put a few values, the last one included, in rising order."""
    for k in range(first + 1, last + 1):
        value = values[k]
        j = k
        while j > first and values[j - 1] > value:
            values[j] = values[j - 1]
            j -= 1
        values[j] = value


@kernel
def _parted(values: npt.NDArray[np.floating], low: int, high: int) -> tuple[int, int]:
    """Part values by a middle one; return where the higher ones begin and where the lower ones end."""
    a, b, c = values[low], values[(low + high) // 2], values[high]
    pivot = max(min(a, b), min(max(a, b), c))
    while low <= high:
        while values[low] < pivot:
            low += 1
        while values[high] > pivot:
            high -= 1
        if low <= high:
            values[low], values[high] = values[high], values[low]
            low += 1
            high -= 1
    return low, high


@kernel
def median(values: npt.NDArray[np.floating]) -> float:
    """Return the median of all values, of which there is one at least and none NaN.

    >>> median(np.array([4.0, 1.0, 2.0])), median(np.array([[4.0, 1.0], [2.0, 8.0]]))
    (2.0, 3.0)
    """
    return median_of(values.copy().ravel())


@kernel
def median_profile(profiles: npt.NDArray[np.floating]) -> Floats:
    """Return the median of profiles (n, m) sample by sample, (m,); at least one profile, no NaN."""
    n, m = profiles.shape
    found = np.empty(m)
    column = np.empty(n)
    for k in range(m):
        for i in range(n):
            column[i] = profiles[i, k]
        found[k] = median_of(column)
    return found
