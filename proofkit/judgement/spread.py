"""Spread from few pulls: pooled, widened honestly, and never below what is physically known."""

import math
from dataclasses import dataclass

import numpy as np
from scipy import optimize, special

from proofkit.arrays import Floats
from proofkit.distributions import chi_square_quantile

PRIOR_PULLS = 4.0
"""Weight of the trade's usual spread against the edition's own, in degrees of freedom. [-] Three confirming pulls
alone know their spread only to half of itself (JCGM 100, E.4.3)."""

D2_OF_TWO = 2.0 / math.sqrt(math.pi)
"""Mean range of two draws from a normal distribution in standard deviations: the d2 of control charts."""


@dataclass(frozen=True, slots=True)
class RunLimits:
    """Limits of a run of single values from the ranges of neighbours."""

    centre: float
    spread: float
    """Standard deviation from one pull to the next, blind to slow drift."""
    lower: float
    upper: float


def run_limits(values: Floats) -> RunLimits:
    """Return centre, pull-to-pull spread and three-sigma limits of a run of single values.

    Parameters
    ----------
    values : Floats
        (n,) in order of pulling; NaN = missing, its neighbours count as neighbours.

    Returns
    -------
    RunLimits
        Spread and limits are NaN with fewer than two values.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 Individuals control charts.

    Examples
    --------
    >>> round(run_limits(np.array([1.0, 3.0, 1.0])).spread, 4)
    1.7725
    """
    known = values[np.isfinite(values)]
    if known.size < 2:
        centre = float(known[0]) if known.size else float("nan")
        return RunLimits(centre, float("nan"), float("nan"), float("nan"))
    centre = float(known.mean())
    spread = float(np.abs(np.diff(known)).mean()) / D2_OF_TWO
    return RunLimits(centre, spread, centre - 3 * spread, centre + 3 * spread)


def spread_bounds(spread: float, freedom: float, confidence: float = 0.95) -> tuple[float, float]:
    """Return between which limits the true standard deviation lies, by the chi-square distribution.

    Examples
    --------
    >>> [round(bound, 3) for bound in spread_bounds(1.0, 4)]
    [0.599, 2.874]
    """
    tail = (1.0 - confidence) / 2
    return (
        spread * math.sqrt(freedom / float(chi_square_quantile(1 - tail, freedom))),
        spread * math.sqrt(freedom / float(chi_square_quantile(tail, freedom))),
    )


def moderated(variance: Floats, freedom: Floats, prior_variance: float, prior_freedom: float) -> Floats:
    """Return variances drawn towards `prior_variance`, each side weighing as much as its degrees of freedom.

    References
    ----------
    .. [1] G. K. Smyth, Linear models and empirical Bayes methods, Stat. Appl. Genet. Mol. Biol. 3 (2004) article 3.
    """
    return np.asarray((prior_freedom * prior_variance + freedom * variance) / (prior_freedom + freedom))


def common_variance(variance: Floats, freedom: Floats) -> tuple[float, float]:
    """Estimate what variances of the same kind have in common: the prior of `moderated`.

    Parameters
    ----------
    variance : Floats
        (n,) sample variances, 0 counts as the least positive one.
    freedom : Floats
        (n,) their degrees of freedom, over 0.

    Returns
    -------
    tuple of float
        Prior variance and prior degrees of freedom. The latter is large (up to 100) when the variances differ by no
        more than chance; with fewer than three of them, it is 0.

    Notes
    -----
    Moments of the logarithm of a variance: its mean is shifted by psi(d/2) - log(d/2), and what exceeds the mean of
    psi'(d/2) in its variance is psi'(d0/2).

    References
    ----------
    .. [1] As in `moderated`, section 6.2.
    """
    use = np.isfinite(variance) & (freedom > 0)
    if use.sum() < 3 or not (variance[use] > 0).any():
        return float("nan"), 0.0
    d = freedom[use]
    v = np.maximum(variance[use], variance[use][variance[use] > 0].min())
    e = np.log(v) - special.digamma(d / 2) + np.log(d / 2)
    excess = float(e.var(ddof=1) - special.polygamma(1, d / 2).mean())
    largest = 100.0
    if excess <= float(special.polygamma(1, largest / 2)):
        d0 = largest
    else:
        d0 = 2.0 * float(optimize.brentq(lambda x: float(special.polygamma(1, x)) - excess, 1e-3, largest))
    level = float(e.mean() + special.digamma(d0 / 2) - math.log(d0 / 2))
    return math.exp(level), d0
