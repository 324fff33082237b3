"""Trade-offs: who is surpassed in every wish, and who leads under which weights. No winner is named."""

from collections.abc import Sequence

import numpy as np

from proofkit.arrays import Floats
from proofkit.choice.desirability import overall

SURPASSED_BY = 0.02
"""What is granted has to differ by more than this to count: a fiftieth of a wish. [-]"""

WEIGHTINGS = 2000
"""Ways to weigh the wishes that are tried: a share is then known to about 0.01."""

SEED = 11


def surpassed_by(granted: Floats) -> list[list[int]]:
    """Return for each candidate those that grant every wish at least as far and one of them further.

    Parameters
    ----------
    granted : Floats
        (candidates, wishes) 0 to 1; where either cannot be told, the wish does not count between the two.

    Examples
    --------
    >>> surpassed_by(np.array([[0.9, 0.2], [0.3, 0.8], [0.2, 0.1]]))
    [[], [], [0, 1]]
    """
    result = []
    for one in granted:
        better = []
        for k, other in enumerate(granted):
            known = np.isfinite(one) & np.isfinite(other)
            ahead = other[known] - one[known]
            if known.any() and (ahead >= -1e-12).all() and (ahead > SURPASSED_BY).any():
                better.append(k)
        result.append(better)
    return result


def lead_shares(granted: Floats, weights: Sequence[float]) -> Floats:
    """Return in which share of weightings each candidate's geometric mean is the largest.

    Parameters
    ----------
    granted : Floats
        (candidates, wishes).
    weights : sequence of float
        As stated; weightings are drawn about them (Dirichlet, one unit for a wish of mean weight), so that equal
        weights mean: any weighting is as likely as any other.

    Returns
    -------
    Floats
        (candidates,) shares; their sum falls short of 1 where no candidate grants all wishes a little.
    """
    count = len(granted)
    if not granted.size:
        return np.zeros(count)
    stated = np.asarray(weights, dtype=np.float64)
    draws = np.random.default_rng(SEED).dirichlet(stated / stated.mean(), WEIGHTINGS)
    leads = np.zeros(count)
    for draw in draws:
        score = np.nan_to_num(overall(granted, draw.tolist()), nan=0.0)
        best = float(score.max())
        if best > 0:
            first = score >= best - 1e-12
            leads[first] += 1 / first.sum()
    return leads / WEIGHTINGS


def leaders(granted: Floats) -> list[list[int]]:
    """Return for each wish the candidates that grant it furthest."""
    result = []
    for column in granted.T:
        known = np.isfinite(column)
        best = float(column[known].max()) if known.any() else np.nan
        result.append([k for k, value in enumerate(column) if value >= best - SURPASSED_BY])
    return result
