"""Step-bite strips: a measure against the time in the bath, and two baths against each other.

Metal that is bitten longer does not grow back, so a measure of depth or width can only rise with time. The fit asks for
nothing more than that: the best course that never falls.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy import optimize, stats

from proofkit.arrays import Floats, Index
from proofkit.study.models import CONFIDENCE, Effect, TooLittleError, fit

FEWEST_TIMES = 3


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """How a measure rises with time."""

    times: Floats
    """(k,) the times that were tried, rising. [as told]"""
    means: Floats
    """(k,) mean of the readings at each."""
    fitted: Floats
    """(k,) course that never falls."""
    low: Floats
    high: Floats
    """(k,) 95 % interval of the course."""
    rise: float
    """From the first time to the last."""
    falls: float
    """Largest fall of the means against the course, in their standard errors; NaN where they have none."""


def rising_course(times: Floats, values: Floats, groups: Index | None = None) -> Course:
    """Return the course of a measure over time that never falls.

    Parameters
    ----------
    times, values : Floats
        (n,) time and reading of each place, all known.
    groups : Index, optional
        (n,) plate or batch of each place, where there are several.

    Returns
    -------
    Course
        The interval is NaN where nothing tells how far readings scatter: no time is repeated and they never fall, or
        each time was bitten on one plate.

    Raises
    ------
    TooLittleError
        With fewer than three times.

    Notes
    -----
    Pooled adjacent violators, weighted with the number of readings. The interval is Student's t about the course with
    the error of the mean at each time, which is no smaller than that of the course; with several plates their luck is
    in it, and degrees of freedom are those between plates.

    References
    ----------
    .. [1] R. E. Barlow and others, Statistical Inference under Order Restrictions, Wiley 1972 (from memory).
    .. [2] scipy.optimize.isotonic_regression.
    """
    tried, place = np.unique(times, return_inverse=True)
    if tried.size < FEWEST_TIMES:
        raise TooLittleError(f"a course over time needs {FEWEST_TIMES} times or more, there are {tried.size}")
    count = np.bincount(place).astype(np.float64)
    means = np.bincount(place, weights=values) / count
    fitted = _never_falling(means, count)
    if groups is None or not groups.any():
        freedom = float(values.size - len(np.unique(fitted)))
        left = values - fitted[place]
        error = np.sqrt((left**2).sum() / freedom / count) if freedom > 0 else np.full(tried.size, np.nan)
    else:
        error, freedom = _error_of_times(place, values, groups)
    reach = float(stats.t.ppf(0.5 + CONFIDENCE / 2, freedom)) * error if freedom > 0 else error * math.nan
    falls = float(np.max(np.abs(means - fitted) / error)) if (error > 0).all() else math.nan
    return Course(tried, means, fitted, fitted - reach, fitted + reach, float(fitted[-1] - fitted[0]), falls)


def _error_of_times(place: Index, values: Floats, groups: Index) -> tuple[Floats, float]:
    """Return the standard error of the mean at each time with the luck of plates in it, and degrees of freedom."""
    count = int(place.max()) + 1
    design = np.column_stack((np.ones_like(values), *(place == k for k in range(1, count)))).astype(
        np.float64
    )
    try:
        found = fit(values, design, groups)
    except TooLittleError:
        return np.full(count, np.nan), 0.0
    pick = np.eye(count)
    pick[:, 0] = 1.0
    variance = np.einsum("ka,ab,kb->k", pick, found.covariance, pick)
    return np.sqrt(variance), found.effects[0].freedom


def _never_falling(means: Floats, weights: Floats) -> Floats:
    return np.asarray(optimize.isotonic_regression(means, weights=weights).x, dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class Power:
    """A measure as a power of time: ``value = at_one * time ** exponent``."""

    exponent: Effect
    at_one: float
    """At time 1."""


def power_law(times: Floats, values: Floats, groups: Index | None = None) -> Power:
    """Return the power of time that a measure follows best; below 1 the bite slows down.

    Raises
    ------
    TooLittleError
        If a time or a value is not above 0, or there are too few of them.
    """
    if not ((times > 0).all() and (values > 0).all()):
        raise TooLittleError("a power of time needs times and values above 0")
    logs = np.log(times)
    found = fit(np.log(values), np.column_stack((np.ones_like(logs), logs - logs.mean())), groups)
    slope = found.effects[1]
    return Power(slope, math.exp(found.effects[0].estimate - slope.estimate * float(logs.mean())))


@dataclass(frozen=True, slots=True)
class BathSpeed:
    """One bath against another."""

    slower: str
    """Bath that is the reference."""
    faster: str
    more: Effect
    """Logarithm of the ratio of the measures at equal times."""
    speed: float
    """How many times as fast the second bath gets to the same measure."""
    low: float
    high: float
    """95 % interval of the speed; may be open (infinite) where the rise with time is not sure; NaN where nothing tells
    the baths from what was bitten in them."""
    freedom: float


def bath_speed(
    times: Floats, values: Floats, baths: tuple[str, ...], reference: str, groups: Index | None = None
) -> BathSpeed:
    """Compare two baths by the time they need for the same measure.

    Parameters
    ----------
    times, values : Floats
        (n,) above 0.
    baths : tuple of str
        (n,) name of the bath; two of them.
    reference : str
        Bath that the other is compared with.
    groups : Index, optional
        (n,) plate or batch of each row. Left out: places are taken as bitten one by one, each in a bath of its own.

    Notes
    -----
    ``log value = a + b log time + c [bath]``: both baths follow one power b; the second gets to the same value in a
    time that is shorter by ``exp(c / b)``. The interval is Fieller's, which stays honest when b is not sure. With one
    plate in each bath what the plates differ by cannot be told from what the baths do: there is no interval.

    Raises
    ------
    TooLittleError
        If there are not two baths, values are not above 0, or rows do not suffice.

    References
    ----------
    .. [1] E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175-185.
    """
    names = sorted(set(baths), key=lambda name: (name != reference, name))
    if len(names) != 2:
        raise TooLittleError(f"baths are compared two at a time, there are {len(names)}")
    if not ((times > 0).all() and (values > 0).all()):
        raise TooLittleError("baths are compared by logarithms, which need times and values above 0")
    logs = np.log(times)
    second = np.array([name == names[1] for name in baths], dtype=np.float64)
    design = np.column_stack((np.ones_like(logs), logs - logs.mean(), second))
    found = fit(np.log(values), design, groups)
    slope, more = found.effects[1], found.effects[2]
    if slope.estimate <= 0:
        raise TooLittleError("the measure does not rise with time, so that no speed can be told")
    freedom = min(slope.freedom, more.freedom)
    speed = math.exp(more.estimate / slope.estimate)
    low, high = _fieller(more.estimate, slope.estimate, found.covariance[1:, 1:], freedom)
    return BathSpeed(names[0], names[1], more, speed, math.exp(low), _exp(high), freedom)


def _exp(value: float) -> float:
    return math.inf if value >= 700 else math.exp(value)


def _fieller(top: float, bottom: float, covariance: Floats, freedom: float) -> tuple[float, float]:
    """Return the 95 % interval of top / bottom; covariance is of (bottom, top)."""
    if freedom <= 0:
        return math.nan, math.nan
    t2 = float(stats.t.ppf(0.975, freedom)) ** 2
    a = bottom**2 - t2 * float(covariance[0, 0])
    b = -2.0 * (top * bottom - t2 * float(covariance[0, 1]))
    c = top**2 - t2 * float(covariance[1, 1])
    inside = b**2 - 4.0 * a * c
    if a <= 0 or inside < 0:
        return -math.inf, math.inf
    root = math.sqrt(inside)
    return (-b - root) / (2 * a), (-b + root) / (2 * a)
