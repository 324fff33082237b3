"""Charts of a run of pulls that see a small lasting change sooner than single limits: EWMA, CUSUM, run rules.

Values come in standard deviations from the centre, in order of pulling; NaN = not measured: the chart waits.
"""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Mask

SMOOTHING = 0.2
"""Share of the newest pull in the weighted mean. [-] With limits at 2.962 the mean run without a false alarm is 500
pulls, and a shift of one standard deviation is seen after 10 (see the tests)."""

CUSUM_ALLOWANCE = 0.5
"""Half of the shift to be seen soonest. [standard deviations]"""

CUSUM_LIMIT = 5.0
"""Sum at which the chart signals: mean run without a false alarm 465 pulls. [standard deviations]"""


@dataclass(frozen=True, slots=True, eq=False)
class Smoothed:
    """An exponentially weighted moving average with its limits."""

    values: Floats
    """(n,) after each pull."""
    reach: Floats
    """(n,) distance of the limits from the centre after each pull, growing to its final size."""

    @property
    def signals(self) -> Mask:
        """(n,) where the average lies beyond its limits."""
        return np.asarray(np.abs(self.values) > self.reach)


def ewma(values: Floats, smoothing: float, limit: float) -> Smoothed:
    """Return the weighted mean of each pull and all before it, newer ones weighing more.

    Parameters
    ----------
    values : Floats
        (n,) distances from the centre. [standard deviations]
    smoothing : float
        Weight of the newest, over 0 and up to 1. [-]
    limit : float
        Distance of the limits. [standard deviations of the average]

    Returns
    -------
    Smoothed
        Starts at the centre.

    Notes
    -----
    ``z_i = w x_i + (1 - w) z_(i-1)``; its variance is ``w / (2 - w) (1 - (1 - w)^(2i))``.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4 EWMA control charts.

    Examples
    --------
    >>> ewma(np.array([1.0, 1.0]), 0.5, 3.0).values.tolist()
    [0.5, 0.75]
    """
    known = np.isfinite(values)
    smooth, level = np.empty(values.size), 0.0
    for index, value in enumerate(values):
        level = smoothing * value + (1 - smoothing) * level if known[index] else level
        smooth[index] = level
    seen = np.cumsum(known)
    variance = smoothing / (2 - smoothing) * (1 - (1 - smoothing) ** (2 * seen))
    return Smoothed(smooth, np.asarray(limit * np.sqrt(variance)))


@dataclass(frozen=True, slots=True, eq=False)
class Sums:
    """Cumulative sums of what exceeds the allowance."""

    high: Floats
    """(n,) of what lies above the centre."""
    low: Floats
    """(n,) of what lies below it."""

    def onset(self, signal: int, *, is_high: bool) -> int:
        """Return the index of the first pull of the excursion that holds `signal`: after the last sum of zero."""
        side = self.high if is_high else self.low
        zero = np.flatnonzero(side[: signal + 1] == 0)
        return int(zero[-1]) + 1 if zero.size else 0


def cusum(values: Floats, allowance: float) -> Sums:
    """Return the cumulative sums of both directions.

    Parameters
    ----------
    values : Floats
        (n,) distances from the centre.
    allowance : float
        What is let pass at each pull, in the unit of the values.

    Returns
    -------
    Sums
        ``high_i = max(0, high_(i-1) + x_i - k)``, ``low_i = max(0, low_(i-1) - x_i - k)``.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3 CUSUM control charts.

    Examples
    --------
    >>> cusum(np.array([1.0, -0.2, 2.0]), 0.5).high.tolist()
    [0.5, 0.0, 1.5]
    """
    high, low = np.zeros(values.size), np.zeros(values.size)
    above = below = 0.0
    for index, value in enumerate(values):
        if np.isfinite(value):
            above, below = max(0.0, above + value - allowance), max(0.0, below - value - allowance)
        high[index], low[index] = above, below
    return Sums(high, low)


RUN_RULES = ((1, 1, 3.0), (2, 3, 2.0), (4, 5, 1.0), (8, 8, 0.0))
"""(how many, of how many in a row, beyond how many standard deviations on the same side)."""

RULE_WORDS = (
    "one beyond three spreads",
    "two of three beyond two spreads on one side",
    "four of five beyond one spread on one side",
    "eight in a row on one side",
)


def run_rules(values: Floats) -> tuple[Mask, ...]:
    """Return for each of the four rules at which pulls it is met.

    Parameters
    ----------
    values : Floats
        (n,) distances from the centre; those that are missing are passed over. [standard deviations]

    Returns
    -------
    tuple of Mask
        One (n,) mask per rule of `RUN_RULES`. Together they give a false alarm every 92 pulls of a steady run, so
        they are told beside a course that is believed on other grounds and flag nothing by themselves.

    References
    ----------
    .. [1] Western Electric, Statistical Quality Control Handbook, 1956; as in NIST/SEMATECH e-Handbook, 6.3.2.
    .. [2] C. W. Champ, W. H. Woodall, Exact results for Shewhart control charts with supplementary runs rules,
       Technometrics 29 (1987) 393-399: run lengths.

    Examples
    --------
    >>> [met.tolist() for met in run_rules(np.array([2.1, 0.0, 2.1]))][1]
    [False, False, True]
    """
    at = np.flatnonzero(np.isfinite(values))
    known = values[at]
    result = []
    for count, window, beyond in RUN_RULES:
        met = np.zeros(values.size, dtype=bool)
        if not known.size:
            result.append(met)
            continue
        for side in (known > beyond, known < -beyond):
            sums = np.convolve(side, np.ones(window), "full")[: side.size]
            met[at[(sums >= count) & side]] = True
        result.append(met)
    return tuple(result)
