"""Chances and quantiles of distributions, by scipy's functions: its statistics take 0.4 s to load and ask much first.

All take arrays or numbers, which are spread over each other; NaN where a number of degrees of freedom is none.
"""

from typing import TypeAlias

import numpy as np
from scipy import special

from proofkit.arrays import Floats

Value: TypeAlias = Floats | float


def normal_above(z: Value) -> Floats:
    """Return the chance that a standard normal value is greater than `z`."""
    return np.asarray(special.ndtr(-np.asarray(z)))


def normal_exceeded(chance: Value) -> Floats:
    """Return what a standard normal value exceeds with this chance.

    >>> float(normal_exceeded(0.025).round(6))
    1.959964
    """
    return -np.asarray(special.ndtri(chance))


def t_below(t: Value, freedom: Value) -> Floats:
    """Return the chance that a value of Student's t is less than `t`."""
    freedom = np.asarray(freedom, dtype=np.float64)
    endless = np.isinf(freedom) & (freedom > 0)
    known = np.where(freedom > 0, np.where(endless, 1.0, freedom), np.nan)
    return np.asarray(np.where(endless, special.ndtr(t), special.stdtr(known, t)))


def t_above(t: Value, freedom: Value) -> Floats:
    """Return the chance that a value of Student's t is greater than `t`."""
    return t_below(-np.asarray(t), freedom)


def t_quantile(share: Value, freedom: Value) -> Floats:
    """Return what a share of values of Student's t lies below.

    >>> float(t_quantile(0.975, 9.0).round(4))
    2.2622
    """
    freedom = np.asarray(freedom, dtype=np.float64)
    endless = np.isinf(freedom) & (freedom > 0)
    known = np.where(freedom > 0, np.where(endless, 1.0, freedom), np.nan)
    found = np.where(endless, special.ndtri(share), special.stdtrit(known, share))
    return np.where((np.asarray(share) == 0.0) & np.isfinite(known), -np.inf, found)


def chi_square_quantile(share: Value, freedom: Value) -> Floats:
    """Return what a share of sums of `freedom` squared normal values lies below."""
    half = np.asarray(freedom, dtype=np.float64) / 2
    return np.asarray(2 * special.gammaincinv(np.where(half > 0, half, np.nan), share))


def f_quantile(share: Value, above: Value, below: Value) -> Floats:
    """Return what a share of ratios of mean squares of so many degrees of freedom lies below."""
    return np.asarray(special.fdtri(above, below, share))


def f_above(ratio: Value, above: Value, below: Value) -> Floats:
    """Return the chance that a ratio of mean squares of so many degrees of freedom is greater than `ratio`."""
    return np.asarray(special.fdtrc(above, below, np.maximum(ratio, 0.0)))


def gamma_quantile(share: Value, shape: Value) -> Floats:
    """Return what a share of values of the standard gamma distribution lies below."""
    return np.asarray(special.gammaincinv(shape, share))


def cauchy_above(value: Value) -> Floats:
    """Return the chance that a standard Cauchy value is greater than `value`."""
    return np.asarray(np.arctan2(1.0, value) / np.pi)


def poisson_above(count: Value, mean: float) -> Floats:
    """Return the chance of more than `count` events where `mean` are expected."""
    count = np.floor(count)
    return np.asarray(np.where(count < 0, 1.0, special.pdtrc(np.maximum(count, 0.0), mean)))


def negative_binomial_above(count: Value, size: float, share: float) -> Floats:
    """Return the chance of more than `count` failures before the `size`-th success, each of chance `share`.

    `size` need not be whole: then it is the mixture of Poisson counts over a gamma distribution.
    """
    count = np.floor(count)
    return np.asarray(
        np.where(count < 0, 1.0, special.betainc(np.maximum(count, 0.0) + 1.0, size, 1.0 - share))
    )
