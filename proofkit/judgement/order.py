"""Rise and fall in order of pulling: Mann and Kendall's test, Theil and Sen's slope."""

import math
from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats
from proofkit.distributions import normal_above, normal_exceeded

MIN_RUN = 8
"""Fewest pulls for a trend to be looked for. [-]"""

TREND_CHANCE = 0.01
"""A trend is believed when chance alone would give it less often than this. [-]"""


MIN_FOR_SLOPE = 3
"""Fewest values that have a slope. [-]"""


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
    return Trend(s, variance, z, float(2 * normal_above(abs(z))))


def falls(values: Floats, *, chance: float = TREND_CHANCE) -> bool:
    """Return whether `values` fall steadily over a run of at least `MIN_RUN` pulls."""
    if np.isfinite(values).sum() < MIN_RUN:
        return False
    trend = mann_kendall(values)
    return trend.s < 0 and trend.p < chance


@dataclass(frozen=True, slots=True)
class Slope:
    """Theil and Sen's slope with its limits."""

    slope: float
    """Median of the slopes of all pairs, per unit of place."""
    intercept: float
    """Value at place 0, through the medians."""
    lower: float
    upper: float


def theil_sen(values: Floats, places: Floats, confidence: float = 0.95) -> Slope:
    """Return the slope of values against their places in the order of pulling.

    Parameters
    ----------
    values : Floats
        (n,) NaN = missing.
    places : Floats
        (n,) number of each pull: where sheets are missing, the numbers have gaps.
    confidence : float, default 0.95
        Of the limits. [-]

    Returns
    -------
    Slope
        NaN for fewer than three values or when all places are alike. The intercept goes through the median value at
        the median place.

    Notes
    -----
    The limits are the pair slopes of rank (N ± z sqrt(V)) / 2, V the variance of Kendall's S with ties, interpolated
    between ranks.

    References
    ----------
    .. [1] P. K. Sen, Estimates of the regression coefficient based on Kendall's tau, J. Am. Stat. Assoc. 63 (1968)
       1379-1389. R. O. Gilbert, Statistical Methods for Environmental Pollution Monitoring, 1987, 16.5.

    Examples
    --------
    >>> theil_sen(np.array([1.0, 2.0, 9.0, 4.0]), np.array([1.0, 2.0, 3.0, 4.0])).slope
    1.0
    """
    known = np.isfinite(values) & np.isfinite(places)
    y, x = values[known], places[known]
    first, second = np.triu_indices(y.size, 1)
    apart = x[second] != x[first]
    if y.size < MIN_FOR_SLOPE or not apart.any():
        return Slope(math.nan, math.nan, math.nan, math.nan)
    slopes = np.sort((y[second] - y[first])[apart] / (x[second] - x[first])[apart])
    middle = float(np.median(slopes))
    reach = float(normal_exceeded((1 - confidence) / 2)) * math.sqrt(mann_kendall(y).variance)
    ranks = np.arange(1, slopes.size + 1)
    lower, upper = np.interp([(slopes.size - reach) / 2, (slopes.size + reach) / 2 + 1], ranks, slopes)
    intercept = float(np.median(y)) - middle * float(np.median(x))
    return Slope(middle, intercept, float(lower), float(upper))
