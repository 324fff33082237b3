"""Steps in order of pulling: from one pull on, another level."""

import math
from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats
from proofkit.distributions import t_above

MIN_LEVEL = 2
"""Fewest pulls that make a level: one alone is an odd sheet. [-]"""

MIN_TOGETHER = 6
"""Fewest values in which a step is looked for. [-]"""


@dataclass(frozen=True, slots=True)
class Step:
    """One change of level."""

    first: int
    """Index of the first value of the new level."""
    height: float
    """Mean after less mean before."""
    p: float
    """Chance of a step as clear at any of the places tried, in a steady run."""


def best_step(values: Floats, places: tuple[int, ...] | None = None) -> Step | None:
    """Return the clearest step of a run.

    Parameters
    ----------
    values : Floats
        (n,) in order of pulling; NaN = missing.
    places : tuple of int, optional
        Where a step is possible at all (a new mix of ink is noted): indices of first values of a new level. Anywhere
        when left out.

    Returns
    -------
    Step or None
        None with fewer than `MIN_TOGETHER` values or no place that leaves `MIN_LEVEL` values on both sides.

    Notes
    -----
    Student's t of both sides, the largest over all places; its chance is multiplied by the number of places tried
    (Bonferroni). The variance is that within the sides or that of successive differences, whichever is less: a run that
    steps away and back again scatters widely about two levels. The freedom is that of successive differences.

    References
    ----------
    .. [1] J. von Neumann et al., The mean square successive difference, Ann. Math. Stat. 12 (1941) 153-162.
    """
    at = np.flatnonzero(np.isfinite(values))
    x, n = values[at], at.size
    if n < MIN_TOGETHER:
        return None
    asked = range(MIN_LEVEL, n - MIN_LEVEL + 1)
    if places is not None:
        firsts = {int(np.searchsorted(at, place)) for place in places}
        asked_list = [k for k in asked if k in firsts]
    else:
        asked_list = list(asked)
    if not asked_list:
        return None
    before = np.array(asked_list, dtype=np.float64)
    sums, squares = np.cumsum(x), np.cumsum((x - x.mean()) ** 2)
    k = before.astype(np.intp)
    low, high = sums[k - 1] / before, (sums[-1] - sums[k - 1]) / (n - before)
    centred = x.mean()
    within = squares[-1] - before * (low - centred) ** 2 - (n - before) * (high - centred) ** 2
    near = float((np.diff(x) ** 2).mean()) / 2
    spread = np.sqrt(np.maximum(np.minimum(within / (n - 2), near), 1e-300))
    t = (high - low) / (spread * np.sqrt(1 / before + 1 / (n - before)))
    best = int(np.argmax(np.abs(t)))
    freedom = min(n - 2, 2.0 * (n - 1) ** 2 / (3.0 * n - 4.0))
    p = min(1.0, 2 * float(t_above(abs(t[best]), freedom)) * len(asked_list))
    return Step(int(at[k[best]]), float(high[best] - low[best]), p)


def levels(values: Floats, chance: float, places: tuple[int, ...] | None = None) -> tuple[int, ...]:
    """Return the first indices of all levels after the first: the clearest step, then steps within its two sides.

    Parameters
    ----------
    values : Floats
        (n,) in order of pulling; NaN = missing.
    chance : float
        A step is believed below this chance. [-]
    places : tuple of int, optional
        As in `best_step`.

    Returns
    -------
    tuple of int
        In order; empty for a steady run.

    References
    ----------
    .. [1] A. J. Scott, M. Knott, A cluster analysis method for grouping means, Biometrics 30 (1974) 507-512: splitting
       in two again and again.

    Examples
    --------
    >>> levels(np.array([0.1, 0.0, 0.2, 0.1, 3.1, 3.0, 3.1, 2.9]), 0.01)
    (4,)
    """
    step = best_step(values, places)
    if step is None or step.p > chance:
        return ()
    before, after = values.copy(), values.copy()
    before[step.first :] = math.nan
    after[: step.first] = math.nan
    return (*levels(before, chance, places), step.first, *levels(after, chance, places))
