"""Where the middle of many crossings lies, and how well their noise and their number let it be known."""

import numpy as np

from proofkit.arrays import Floats, Numbers
from proofkit.scatter import MEDIAN_FACTOR, robust_sd

TRIPLES_MIN = 15
"""Fewest triples of neighbouring crossings that tell their noise."""

MIDDLE_ALONE, MIDDLE_OF_NOISE = 2.0, 1.19
"""Variance of the mean of the middle half over that of a mean: where values differ by far more than their noise, half
of them count twice each; where they differ by their noise alone, normal values have 1.19 (influence function: 4 times
the variance of a normal value cut off at its quartiles)."""


OF_MEDIAN_SIZE = 1.361
"""Variance of a standard deviation told from the median absolute deviation of n normal values, times n over that of
the values: ``1 / (16 phi(q)² q²)`` with q their upper quartile. [-]"""

QUARTILE_RANKS = 0.4330
"""Scatter of the number of values below a quartile over the root of their number, ``sqrt(3 / 16)`` (binomial). [-]"""


BLOCK_CROSSINGS, BLOCKS_MIN = 24, 10
"""Crossings of a block, some 2 mm of line, longer than fibres of paper; and fewest blocks that tell how alike they are
(choice of ours)."""


def middle_mean(values: Floats) -> float:
    """Return the mean of the middle half of values (n,), n > 0: without the quarter at each end.

    It lies where the median does, and a quarter of strays at either end does not lead it. But a median moves by as much
    as values lie apart about it: on a few swelling lines, whose loads run from 55 to 155 µm, that of one sheet laid
    down eight times scattered by 0.5 to 0.9 %, this by 0.2 % (drawn sheets).

    >>> middle_mean(np.array([1.0, 5.0, 2.0, 3.0, 4.0, 90.0, 4.0, 0.0]))
    3.25
    """
    cut = len(values) // 4
    return float(np.mean(np.sort(values)[cut : len(values) - cut]))


def u_middle(values: Floats, number: Numbers, share: float = 1.0) -> float:
    """Return the standard uncertainty of the mean of the middle half of crossings, as `u_median` does of a median.

    Parameters
    ----------
    values, number, share
        As in `u_median`.

    Notes
    -----
    Noise s of values that differ by t anyway moves it with variance ``(2 - 0.81 s / t) s² (1 + 2 rho) / n``: between
    `MIDDLE_ALONE` and `MIDDLE_OF_NOISE` straight, within 6 % of simulated variances. What was not read adds
    ``1.19 t² (1 - share) / n``.
    """
    n = len(values)
    if n < 2:
        return float("nan")
    spread, noise, alike = _told(values, number)
    if not np.isfinite(noise):
        return float(np.sqrt(MIDDLE_OF_NOISE / max(len(np.unique(number)), 1)) * spread)
    of_noise = MIDDLE_ALONE - (MIDDLE_ALONE - MIDDLE_OF_NOISE) * (noise / spread if spread > 0 else 1.0)
    read = of_noise * noise**2 * (1 + 2 * alike)
    return float(np.sqrt((read + MIDDLE_OF_NOISE * (1 - share) * spread**2) / n))


def u_of_ranks(values: Floats) -> float:
    """Return the standard uncertainty of the mean of the middle half of crossings whose values are cut off at 0.

    Parameters
    ----------
    values : Floats
        (n,) one value a crossing, in order along the lines; none below 0.

    Notes
    -----
    Where most values are 0 their median absolute deviation is too, and says nothing of their noise. How many of n
    values lie below some limit scatters by ``sqrt(n p (1 - p))``; with as many more, the middle half begins and ends so
    many ranks later. At quartiles that is ``0.43 sqrt(n)``, and what the mean gains by it is, of normal values, 1.17 s
    over ``sqrt(n)``, where 1.09 is right; of values half of which are cut off it is right to 2 %. Crossings that follow
    each other lie on the same fibres of paper, so the number above the upper quartile is told in blocks of
    `BLOCK_CROSSINGS`, whose sums scatter by more where crossings are alike (batch means; differences between lines
    count as well).
    """
    n = len(values)
    if n < 2:
        return float("nan")
    ordered, cut = np.sort(values), n // 4
    above = (values > ordered[n - cut - 1]).astype(np.float64)
    share = float(above.mean())
    alike = 1.0
    if n >= BLOCKS_MIN * BLOCK_CROSSINGS and 0 < share < 1:
        sums = np.bincount(np.arange(n) // BLOCK_CROSSINGS, above - share)
        alike = max(float(np.sum(sums**2)) / (n * share * (1 - share)), 1.0)
    more = QUARTILE_RANKS * float(np.sqrt(n * alike))
    whole = int(np.clip(round(more), 1, max(cut, 1)))
    later = ordered[cut + whole : n - cut + whole]
    return float(later.mean() - ordered[cut : n - cut].mean()) * more / whole


def u_robust_spread(spread: float, number: float) -> float:
    """Return the standard uncertainty of a standard deviation told from the median size of so many independent values.

    Of normal values it is 1.65 times that of one told from their squares, as the median absolute deviation has an
    efficiency of 0.37 (Rousseeuw and Croux 1993, 1; from memory): variance ``1.361 spread² / number``.
    """
    return float(np.sqrt(OF_MEDIAN_SIZE / max(number, 1.0)) * spread)


def u_median(values: Floats, number: Numbers, share: float = 1.0) -> float:
    """Return the standard uncertainty of the median of crossings from their noise and their effective number.

    Parameters
    ----------
    values : Floats
        (n,) one value a crossing, in order along the lines.
    number : (n,) int
        Line of each crossing.
    share : float, default 1
        Part of the region's crossings that was read. [-]

    Notes
    -----
    Noise s comes from second differences along each line (variance 6 s² of independent values), at one and two steps:
    where the larger step shows more, neighbours are alike, with correlation ``0.75 (1 - V1 / V2)``, and the effective
    number is ``n / (1 + 2 rho)``. When noise moves values that differ by t anyway, the median of n of them moves with
    variance ``(pi / 2) s t / n`` (each value near the median crosses it or not; integral of p (1 - p)); for s = t that
    is the usual variance of a median. What was not read adds ``(pi / 2) t² (1 - share) / n``.
    """
    n = len(values)
    if n < 2:
        return float("nan")
    spread, noise, alike = _told(values, number)
    if not np.isfinite(noise):
        return float(MEDIAN_FACTOR * spread / np.sqrt(max(len(np.unique(number)), 1)))
    read = noise * spread * (1 + 2 * alike)
    return float(MEDIAN_FACTOR * np.sqrt((read + (1 - share) * spread**2) / n))


def _told(values: Floats, number: Numbers) -> tuple[float, float, float]:
    """Return spread of crossings, noise of single ones (no larger; NaN where not known), correlation of neighbours."""
    spread = robust_sd(values)
    noise, alike = noise_along(values, number)
    return spread, min(noise, spread) if spread > 0 else noise, alike


def noise_along(values: Floats, number: Numbers) -> tuple[float, float]:
    """Return the noise of single crossings and the correlation of neighbours; NaN where too few stand in a row.

    Parameters
    ----------
    values, number
        As in `u_median`; NaN where a crossing was not read.
    """
    bends = []
    for step in (1, 2):
        first, middle, last = values[: -2 * step], values[step:-step], values[2 * step :]
        same = number[: -2 * step] == number[2 * step :]
        bend = (first - 2 * middle + last)[same]
        bend = bend[np.isfinite(bend)]
        bends.append(robust_sd(bend, about=0) ** 2 if len(bend) >= TRIPLES_MIN else np.nan)
    near, far = bends
    if not np.isfinite(near):
        return float("nan"), 0.0
    if not (np.isfinite(far) and far > near):
        return float(np.sqrt(near / 6)), 0.0
    return float(np.sqrt(far / 6)), float(np.clip(0.75 * (1 - near / far), 0.0, 0.45))
