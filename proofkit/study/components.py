"""Components of variance of nested measurements, also where the numbers of repeats differ.

Lays lie within days, days within operators, operators within the sheet that all of them measured. What the sheets
differ by is no error of measurement and is taken out first.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from proofkit.arrays import Floats, Index

REPEATABILITY_FACTOR = 1.96 * math.sqrt(2.0)
"""Two single measurements of the same thing differ by less than this many standard deviations in 95 of 100 cases:
1.96 times the root of two (ISO 5725-6, from memory, which rounds it to 2.8). [-]"""


@dataclass(frozen=True, slots=True)
class Component:
    """One level of the nesting."""

    level: str
    sum_squares: float
    """Between the groups of this level within those of the level above. [unit²]"""
    freedom: int
    """0 where the level has one group in each group above: its component cannot be told apart."""
    variance: float
    """Component of this level, never negative; NaN without freedom. [unit²]"""
    raw_variance: float
    """The same before a negative estimate was set to zero. [unit²]"""


@dataclass(frozen=True, slots=True)
class Nested:
    """Components from the outermost level to the single measurement."""

    components: tuple[Component, ...]
    variance: float
    """Sum of the components: of a single measurement, everything included but the differences of the sheets. [unit²]"""
    freedom: float
    """Effective degrees of freedom of `variance`. [-]"""


def nested_components(values: Floats, base: Index, levels: Sequence[tuple[str, Index]]) -> Nested:
    """Estimate components of variance by equating mean squares with their expectations.

    Parameters
    ----------
    values : Floats
        (n,) measurements, all known.
    base : Index
        (n,) which thing was measured; differences between things count as no error. All zero for one thing, or where
        the first level itself is of interest.
    levels : sequence of (str, Index)
        Outermost first: name and group of each measurement. Groups need not be numbered apart: the same number under
        another group of the level above is another group. The single measurement comes last by itself.

    Returns
    -------
    Nested
        A negative estimate counts as zero, which then is also what the total is made with.

    Raises
    ------
    ValueError
        If there are fewer than two values, or shapes differ.

    Notes
    -----
    The sum of squares of a level is ``y'(P - P_above)y`` with P the projection on group means; its expectation is the
    sum over components k of ``variance_k tr((P - P_above) Z_k Z_k')``, which needs counts only. For balanced data these
    are the estimates of the textbooks. The effective degrees of freedom are Satterthwaite's, of the linear combination
    of mean squares that makes the total.

    References
    ----------
    .. [1] S. R. Searle, G. Casella, C. E. McCulloch, Variance Components, Wiley 1992, chapter 5 (from memory).
    .. [2] NIST/SEMATECH e-Handbook of Statistical Methods, 2.4.4 and 6.6.1 (worked data in the tests).
    """
    if values.size < 2 or any(codes.shape != values.shape for codes in (base, *(c for _, c in levels))):
        raise ValueError("nested components need two values or more and a group for each of them")
    groups = [_compact(base)]
    for _, codes in levels:
        groups.append(_compact(groups[-1] * (int(codes.max(initial=0)) + 1) + codes))
    groups.append(np.arange(values.size))
    labels = [*(name for name, _ in levels), "lay"]
    kinds = len(labels)
    fitted = [_projection(values, codes) for codes in groups]
    squares = [float(((after - before) ** 2).sum()) for before, after in itertools.pairwise(fitted)]
    freedom = [int(after.max() - before.max()) for before, after in itertools.pairwise(groups)]
    weights = np.zeros((kinds, kinds))
    for k in range(kinds):
        traces = [_trace(codes, groups[k + 1]) for codes in groups]
        for q in range(kinds):
            weights[q, k] = (traces[q + 1] - traces[q]) / freedom[q] if freedom[q] else 0.0
    told = [q for q in range(kinds) if freedom[q]]
    means = np.array([squares[q] / freedom[q] for q in told])
    inverse = np.linalg.inv(weights[np.ix_(told, told)]) if told else np.zeros((0, 0))
    raw = dict(zip(told, (inverse @ means).tolist(), strict=True))
    total = sum(max(one, 0.0) for one in raw.values())
    return Nested(
        tuple(
            Component(
                labels[q],
                squares[q],
                freedom[q],
                max(raw[q], 0.0) if q in raw else math.nan,
                raw.get(q, math.nan),
            )
            for q in range(kinds)
        ),
        total,
        _effective(inverse.sum(axis=0) * means, np.array([freedom[q] for q in told]), total),
    )


def _compact(codes: Index) -> Index:
    return np.asarray(np.unique(codes, return_inverse=True)[1], dtype=np.intp)


def _projection(values: Floats, codes: Index) -> Floats:
    """Return the mean of each value's group."""
    count = np.bincount(codes)
    return np.asarray((np.bincount(codes, weights=values) / count)[codes], dtype=np.float64)


def _trace(codes: Index, others: Index) -> float:
    """Return tr(P Z Z') for groups `codes` and component groups `others`, one of which is nested in the other."""
    pairs, counts = np.unique(np.stack((codes, others)), axis=1, return_counts=True)
    return float((counts.astype(np.float64) ** 2 / np.bincount(codes)[pairs[0]]).sum())


def _effective(parts: Floats, freedom: Floats | Index, total: float) -> float:
    """Return Satterthwaite's degrees of freedom of a sum of scaled mean squares; at least one."""
    spread = float((parts**2 / freedom).sum()) if parts.size else 0.0
    return max(1.0, total**2 / spread) if spread > 0 else float(freedom.sum())


def upper_limit(deviation: float, freedom: float, confidence: float = 0.95) -> float:
    """Return what a true standard deviation is below, with that confidence, by the chi-square distribution.

    >>> round(upper_limit(1.0, 9.0), 3)
    1.645
    """
    return deviation * math.sqrt(freedom / float(stats.chi2.ppf(1.0 - confidence, freedom)))


def detectable_change(deviation: float) -> float:
    """Return the least difference of two single measurements that 19 of 20 repeats of the same thing stay below.

    >>> round(detectable_change(1.0), 5)
    2.77186
    """
    return REPEATABILITY_FACTOR * deviation
