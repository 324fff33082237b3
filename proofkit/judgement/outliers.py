"""Strays in a small sample, also when they hide each other."""

import numpy as np

from proofkit.arrays import Floats, Mask
from proofkit.distributions import t_quantile

MIN_VALUES = 8
"""Fewest values among which a stray is told: with fewer the test cannot reach its limit. [-]"""


def deviates(values: Floats, most: int, chance: float = 0.05) -> tuple[Floats, Mask, list[int]]:
    """Return the largest deviates one after the other, which of them pass their limit, and their indices.

    Parameters
    ----------
    values : Floats
        (n,) finite.
    most : int
        How many strays there may be, under n - 2.
    chance : float, default 0.05
        Chance of calling any in a clean normal sample. [-]

    Returns
    -------
    tuple
        (most,) deviates in standard deviations of what is left, (most,) mask, indices in order of removal.

    References
    ----------
    .. [1] B. Rosner, Percentage points for a generalized ESD many-outlier procedure, Technometrics 25 (1983)
       165-172; NIST/SEMATECH e-Handbook, 1.3.5.17.3.
    """
    left = np.arange(values.size)
    sizes, passed, order = np.zeros(most), np.zeros(most, dtype=bool), list[int]()
    for step in range(most):
        kept = values[left]
        spread = float(kept.std(ddof=1))
        away = np.abs(kept - kept.mean())
        worst = int(np.argmax(away))
        sizes[step] = away[worst] / spread if spread > 0 else 0.0
        passed[step] = sizes[step] > stray_limit(values.size, step + 1, chance)
        order.append(int(left[worst]))
        left = np.delete(left, worst)
    return sizes, passed, order


def stray_limit(count: int, number: int, chance: float = 0.05) -> float:
    """Return the limit of the `number`-th deviate of `count` values.

    Examples
    --------
    >>> round(stray_limit(54, 1), 3)
    3.159
    """
    left = count - number + 1
    t = float(t_quantile(1 - chance / (2 * left), left - 2))
    return float((left - 1) * t / np.sqrt((left - 2 + t**2) * left))


def strays(values: Floats, most: int, chance: float = 0.05) -> Mask:
    """Return which values are strays: all up to the last deviate that passes, even where earlier ones do not.

    Parameters
    ----------
    values : Floats
        (n,) NaN = missing, never a stray.
    most : int
        How many there may be.
    chance : float, default 0.05
        Chance of calling any in a clean normal sample.

    Returns
    -------
    Mask
        (n,) none with fewer than `MIN_VALUES`.

    Examples
    --------
    >>> strays(np.array([1.0, 1.1, 0.9, 1.05, 0.95, 1.0, 1.02, 9.0]), 2).tolist()[-1]
    True
    """
    result = np.zeros(values.size, dtype=bool)
    at = np.flatnonzero(np.isfinite(values))
    most = min(most, at.size - 3)
    if at.size < MIN_VALUES or most < 1:
        return result
    _, passed, order = deviates(values[at], most, chance)
    last = int(np.flatnonzero(passed)[-1]) + 1 if passed.any() else 0
    result[at[order[:last]]] = True
    return result
