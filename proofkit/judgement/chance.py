"""Chance: p-values of a sheet, and false discoveries bounded over the whole edition."""

import numpy as np
from scipy import stats

from proofkit.arrays import Floats
from proofkit.judgement.scales import Sides

FALSE_DISCOVERY_RATE = 0.05
"""Bound on the share of chance among the sheets that are flagged, and among the findings. [-] One in fifty: a flag
is a request to look, and a pile of thirty with half of it faulty then holds less than one false one."""


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
        return np.asarray(2.0 * stats.t.sf(np.abs(deviations), freedom))
    signed = deviations if sides == "upper" else -deviations
    return np.asarray(stats.t.sf(signed, freedom))


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


def simes(p: Floats) -> float:
    """Return one p-value for "none of these tests leaves the standard" (Simes).

    Parameters
    ----------
    p : Floats
        p-values of any shape; NaN does not count.

    Returns
    -------
    float
        The least of n p(i) / i over the sorted values, 1 when nothing was tested. Valid also for tests that
        rise and fall together, as those of one sheet do.

    References
    ----------
    .. [1] R. J. Simes, An improved Bonferroni procedure for multiple tests of significance, Biometrika 73 (1986)
       751-754.

    Examples
    --------
    >>> simes(np.array([0.01, 0.04]))
    0.02
    """
    values = np.sort(p[np.isfinite(p)])
    if values.size == 0:
        return 1.0
    return float(min(1.0, (values * values.size / np.arange(1, values.size + 1)).min()))
