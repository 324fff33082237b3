"""Percentiles, moments and trimmed means of a region's cells, told from how many have which code."""

from collections.abc import Sequence

import numpy as np

from proofkit.arrays import Floats
from proofkit.measures.region_cells import Tally

STRAY_PERCENT = 0.5
"""Cells of ground beyond this on both sides are specks and lint. [%]"""


def percentiles(tally: Tally, percents: Sequence[float]) -> Floats:
    """Return percentiles of R/Rp, linear between neighbours in order as `numpy.percentile` does; one cell at least.

    >>> percentiles(Tally(np.array([1.0, 2.0, 3.0]), np.array([1, 1, 1])), (0, 25, 100)).tolist()
    [1.0, 1.5, 3.0]
    """
    values, counts = tally.seen()
    up_to = np.cumsum(counts)
    place = np.asarray(percents, dtype=np.float64) / 100 * (up_to[-1] - 1)
    below = np.floor(place)
    low, high = (
        values[np.searchsorted(up_to, np.minimum(rank, up_to[-1] - 1), side="right")]
        for rank in (below, below + 1)
    )
    return np.asarray(low + (place - below) * (high - low))


def stray_limits(tally: Tally) -> tuple[float, float]:
    """Return the R/Rp between which cells of ground count: all but the outer half percent on both sides."""
    low, high = percentiles(tally, (STRAY_PERCENT, 100 - STRAY_PERCENT))
    return float(low), float(high)


def moments(tally: Tally, low: float = -np.inf, high: float = np.inf) -> tuple[float, float]:
    """Return mean and standard deviation (about the mean, over n) of the R/Rp from `low` to `high`; NaN for none."""
    values, counts = tally.seen()
    kept = (values >= low) & (values <= high)
    if not kept.any():
        return float("nan"), float("nan")
    values, counts = values[kept], counts[kept]
    mean = float(np.average(values, weights=counts))
    return mean, float(np.sqrt(np.average((values - mean) ** 2, weights=counts)))


def trimmed_mean(tally: Tally) -> float:
    """Return the mean R/Rp of cells of ground without stray ones."""
    return moments(tally, *stray_limits(tally))[0]
