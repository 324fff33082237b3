"""What the order of pulls shows: wear, loss of burr, a new batch of ink, a drift of the hand."""

import math
from dataclasses import dataclass

import numpy as np
from scipy import stats

from proofkit.arrays import Floats

MIN_RUN = 8
"""Fewest pulls for a trend to be looked for. [-]"""

TREND_CHANCE = 0.01
"""A trend is believed when chance alone would give it less often than this. [-]"""

MIN_BATCH = 3
"""Fewest pulls on either side of a step. [-]"""


@dataclass(frozen=True, slots=True)
class Trend:
    """Mann and Kendall's test of a rise or fall in order."""

    s: float
    """Pairs that rise less pairs that fall."""
    variance: float
    z: float
    """With continuity correction."""
    p: float
    """Two-sided, normal approximation."""


def mann_kendall(values: Floats) -> Trend:
    """Test values in order of pulling for a steady rise or fall.

    Parameters
    ----------
    values : Floats
        (n,) in order; NaN is left out.

    Returns
    -------
    Trend
        p = 1 for fewer than three values or when all are alike.

    Notes
    -----
    Variance with the correction for ties, n(n-1)(2n+5) - sum t(t-1)(2t+5), over 18.

    References
    ----------
    .. [1] H. B. Mann, Econometrica 13 (1945) 245-259; M. G. Kendall, Rank Correlation Methods, 4th ed. 1975.

    Examples
    --------
    >>> mann_kendall(np.arange(10.0)).s
    45.0
    """
    x = values[np.isfinite(values)]
    n = x.size
    if n < 3:
        return Trend(0.0, 0.0, 0.0, 1.0)
    s = float(np.sign(x[None, :] - x[:, None])[np.triu_indices(n, 1)].sum())
    _, ties = np.unique(x, return_counts=True)
    variance = float(n * (n - 1) * (2 * n + 5) - (ties * (ties - 1) * (2 * ties + 5)).sum()) / 18
    if variance <= 0:
        return Trend(s, 0.0, 0.0, 1.0)
    z = (s - math.copysign(1.0, s)) / math.sqrt(variance) if s else 0.0
    return Trend(s, variance, z, float(2 * stats.norm.sf(abs(z))))


def falls(values: Floats, *, chance: float = TREND_CHANCE) -> bool:
    """Return whether `values` fall steadily over a run of at least `MIN_RUN` pulls."""
    if np.isfinite(values).sum() < MIN_RUN:
        return False
    trend = mann_kendall(values)
    return trend.s < 0 and trend.p < chance


def step(values: Floats) -> tuple[int, float] | None:
    """Find one lasting step in a run: from one pull on, another level.

    Parameters
    ----------
    values : Floats
        (n,) in order of pulling; NaN is left out.

    Returns
    -------
    tuple or None
        Index of the first pull of the new level and the height of the step (difference of medians); None when the
        best split is no better than chance (Mann-Whitney, times the number of splits) or when pulls of both levels
        overlap by more than one in ten.
    """
    known = np.flatnonzero(np.isfinite(values))
    if known.size < max(MIN_RUN, 2 * MIN_BATCH):
        return None
    x = values[known]
    splits = range(MIN_BATCH, known.size - MIN_BATCH + 1)
    chances = [float(stats.mannwhitneyu(x[:k], x[k:], method="asymptotic").pvalue) for k in splits]
    best = int(np.argmin(chances))
    k = splits[best]
    if chances[best] * len(splits) > TREND_CHANCE:
        return None
    height = float(np.median(x[k:]) - np.median(x[:k]))
    middle = float(np.median(x[k:]) + np.median(x[:k])) / 2
    wrong = (np.sign(x[:k] - middle) == np.sign(height)).sum() + (
        np.sign(x[k:] - middle) != np.sign(height)
    ).sum()
    return (int(known[k]), height) if wrong <= 0.1 * known.size else None
