"""Chance: p-values of a sheet, and false discoveries bounded over the whole edition."""

import numpy as np

from proofkit.arrays import Floats
from proofkit.distributions import cauchy_above, t_above
from proofkit.judgement.scales import Sides

FALSE_DISCOVERY_RATE = 0.05
"""Bound on the share of chance among the sheets that are flagged, and among the findings. [-] One in fifty: a flag
is a request to look, and a pile of thirty with half of it faulty then holds less than one false one."""


SMALLEST_P = 1e-15
"""p-values below this count as this, so that their tangent stays finite. [-]"""

LARGEST_P = 0.9
"""p-values above this count as this in `combined`: one-sided tests give many near 1, which would cancel
evidence. [-]"""

DEPENDENCE = 1.5
"""Factor on a combined p-value: between 0.005 and 0.05 the uncorrected one is too small by up to this, at the worst of
the dependences that the tests simulate. [-]"""


def p_values(deviations: Floats, freedom: Floats, sides: Sides) -> Floats:
    """Return the chance of a deviation this large between good pulls.

    Parameters
    ----------
    deviations : Floats
        Any shape, in standard deviations. [-]
    freedom : Floats
        Degrees of freedom of those standard deviations; broadcasts. [-]
    sides : {"both", "upper", "lower"}
        Directions that count.

    Returns
    -------
    Floats
        Same shape, 0 to 1; NaN where the deviation is NaN. Student's t.

    Examples
    --------
    >>> p_values(np.array([2.2622]), np.array([9.0]), "both").round(4).tolist()
    [0.05]
    """
    if sides == "both":
        return np.asarray(2.0 * t_above(np.abs(deviations), freedom))
    signed = deviations if sides == "upper" else -deviations
    return np.asarray(t_above(signed, freedom))


def adjusted(p: Floats) -> Floats:
    """Return the false discovery rate at which each test would be called (Benjamini and Hochberg).

    Parameters
    ----------
    p : Floats
        (n,) p-values; NaN = not tested, does not count.

    Returns
    -------
    Floats
        (n,) adjusted values, NaN where not tested.

    References
    ----------
    .. [1] Y. Benjamini, Y. Hochberg, Controlling the false discovery rate, J. R. Stat. Soc. B 57 (1995) 289-300.

    Examples
    --------
    >>> adjusted(np.array([0.01, 0.04, np.nan])).tolist()
    [0.02, 0.04, nan]
    """
    result = np.full(p.shape, np.nan)
    tested = np.isfinite(p)
    count = int(tested.sum())
    if count == 0:
        return result
    values = p[tested]
    order = np.argsort(values)
    scaled = values[order] * count / np.arange(1, count + 1)
    steps = np.minimum(np.minimum.accumulate(scaled[::-1])[::-1], 1.0)
    back = np.empty(count)
    back[order] = steps
    result[tested] = back
    return result


def combined(p: Floats, weights: Floats) -> Floats:
    """Return one p-value a row for "none of these tests leaves the standard" (the Cauchy combination).

    Parameters
    ----------
    p : Floats
        (rows, n) p-values; NaN does not count.
    weights : Floats
        (rows, n) shares of the tests, 0 or more; those of the tests that count are brought to a sum of 1.

    Returns
    -------
    Floats
        (rows,) 1 when nothing was tested. Holds in its tail for tests that rise and fall together in any way, as those
        of one sheet do; several noticeable tests add up, where Bonferroni's bound sees only the smallest.

    Notes
    -----
    ``T = sum w tan((1/2 - p) pi)`` follows Cauchy's distribution when nothing is there; p-values are cut at
    `LARGEST_P` [2]_ and the result is raised by `DEPENDENCE`.

    References
    ----------
    .. [1] Y. Liu, J. Xie, Cauchy combination test, J. Am. Stat. Assoc. 115 (2020) 393-402.
    .. [2] Y. Fang, C. Chang, Y. Park, G. Tseng, Heavy-tailed distribution for combining dependent p-values,
       Stat. Sinica 33 (2023) 1115-1142: the truncated Cauchy.

    Examples
    --------
    >>> combined(np.array([[0.02, 0.02]]), np.ones((1, 2))).round(6).tolist()
    [0.03]
    """
    tested = np.isfinite(p) & (weights > 0)
    values = np.clip(np.where(tested, p, 0.5), SMALLEST_P, LARGEST_P)
    shares = np.where(tested, weights, 0.0)
    total = shares.sum(axis=-1)
    statistic = (shares * np.tan((0.5 - values) * np.pi)).sum(axis=-1) / np.where(total > 0, total, 1.0)
    chance = np.minimum(1.0, DEPENDENCE * cauchy_above(statistic))
    return np.asarray(np.where(total > 0, chance, 1.0))
