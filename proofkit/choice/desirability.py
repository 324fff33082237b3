"""How far a value grants a wish: from 0, not at all, to 1, wholly.

References
----------
.. [1] G. Derringer and R. Suich, Simultaneous optimization of several response variables, Journal of Quality
   Technology 12 (1980) 214-219: one-sided form, two-sided form, geometric mean.
.. [2] NIST/SEMATECH e-Handbook of Statistical Methods, 5.5.3.2.2, Multiple responses: the desirability approach
   (the mirrored one-sided form).
"""

from collections.abc import Sequence

import numpy as np

from proofkit.arrays import Floats


def at_least(values: Floats, low: float, best: float, strictness: float = 1.0) -> Floats:
    """Return how far values grant the wish for more.

    Parameters
    ----------
    values : Floats
        Any shape; NaN stays NaN.
    low, best : float
        Not granted up to `low`, wholly from `best` on; ``low < best``. [as the values]
    strictness : float
        Exponent of the straight rise between them. [-]

    Raises
    ------
    ValueError
        If `low` is not under `best`.

    Examples
    --------
    >>> at_least(np.array([1.0, 2.0, 3.0, 9.0]), 1.0, 3.0).tolist()
    [0.0, 0.5, 1.0, 1.0]
    """
    if not low < best:
        raise ValueError(f"low is {low:g}, allowed is a number under best ({best:g})")
    return np.asarray(np.clip((values - low) / (best - low), 0.0, 1.0) ** strictness)


def at_most(values: Floats, best: float, high: float, strictness: float = 1.0) -> Floats:
    """Return how far values grant the wish for less: wholly up to `best`, not at all from `high` on.

    >>> at_most(np.array([1.0, 2.0, 3.0]), 1.0, 3.0).tolist()
    [1.0, 0.5, 0.0]
    """
    return at_least(-values, -high, -best, strictness)


def near(values: Floats, low: float, best: float, high: float, strictness: float = 1.0) -> Floats:
    """Return how far values grant the wish for `best`: not at all at `low` and below, at `high` and above.

    >>> near(np.array([0.0, 1.0, 2.0, 4.0, 6.0]), 0.0, 2.0, 6.0).tolist()
    [0.0, 0.5, 1.0, 0.5, 0.0]
    """
    below = at_least(values, low, best, strictness)
    above = at_most(values, best, high, strictness)
    return np.asarray(np.where(values <= best, below, above))


def overall(granted: Floats, weights: Sequence[float]) -> Floats:
    """Return the weighted geometric mean of what is granted.

    Parameters
    ----------
    granted : Floats
        (candidates, wishes) 0 to 1; NaN = cannot be told, the wish then counts for that candidate as if it were not
        there.
    weights : sequence of float
        One for each wish, above 0.

    Returns
    -------
    Floats
        (candidates,); 0 where any wish is not granted at all, NaN where nothing can be told.

    Examples
    --------
    >>> overall(np.array([[0.25, 1.0], [0.0, 1.0]]), [1.0, 1.0]).tolist()
    [0.5, 0.0]
    """
    known = np.isfinite(granted)
    share = np.where(known, np.asarray(weights, dtype=np.float64), 0.0)
    total = share.sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = np.where(known, np.log(np.where(known, granted, 1.0)), 0.0)
        mean = np.where(share > 0, share * logs, 0.0).sum(axis=1) / total
    return np.asarray(np.where(total > 0, np.exp(mean), np.nan))
