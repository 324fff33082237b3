"""Percentiles and trimmed means of a region's cells, by compiled loops without copies of the cells."""

from collections.abc import Sequence

import numpy as np

from proofkit.arrays import Floats, Picture
from proofkit.measures.cell_kernels import moments, order_statistics

STRAY_PERCENT = 0.5
"""Cells of ground beyond this on both sides are specks and lint. [%]"""


def percentiles(values: Picture, percents: Sequence[float]) -> Floats:
    """Return percentiles of values (n,), linear between neighbours in order as `numpy.percentile` does; no NaN in them.

    >>> percentiles(np.array([3.0, 1.0, 2.0], dtype=np.float32), (0, 25, 100)).tolist()
    [1.0, 1.5, 3.0]
    """
    place = np.asarray(percents, dtype=np.float64) / 100 * (len(values) - 1)
    below = np.floor(place).astype(np.int64)
    above = np.minimum(below + 1, len(values) - 1)
    found = order_statistics(values, np.column_stack((below, above)).ravel()).astype(np.float64)
    low, high = found[::2], found[1::2]
    return np.asarray(low + (place - below) * (high - low))


def stray_limits(values: Picture) -> tuple[float, float]:
    """Return the limits between which cells of ground (n,) count: all but the outer half percent on both sides."""
    low, high = percentiles(values, (STRAY_PERCENT, 100 - STRAY_PERCENT))
    return float(low), float(high)


def trimmed_mean(values: Picture) -> float:
    """Return the mean of cells of ground (n,) without stray ones."""
    return float(moments(values, *stray_limits(values))[1])
