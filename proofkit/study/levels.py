"""What was set up together: batches, plates and pulls inside each other, and the model at each of these levels.

A bath that was made up once, an ink that was mixed once, a plate that was bitten as a whole: rows that share it share
its luck, and however many of them there are, they are one trial of what was set for all of them together. An effect is
therefore taken from the model whose groups are the coarsest inside which its factor never varies.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import pandas as pd

from proofkit.arrays import Floats, Index
from proofkit.study.design import groups_of
from proofkit.study.models import Fitted, fit

SAME = 1e-9
"""A column varies inside a group when it leaves the group's mean by more than this share of itself: rounding. [-]"""

FEWEST_IN_RUN = 2


@dataclass(frozen=True, slots=True, eq=False)
class Levelled:
    """A model fitted at all levels of what was set up together."""

    fitted: Fitted
    """Effects and their covariances from the level of each column; residuals from the finest."""
    units: tuple[int, ...]
    """How many things were set on their own at the level of each column: rows, or groups of them."""


def groups_at(table: pd.DataFrame, levels: Sequence[Sequence[str]]) -> list[Index]:
    """Return the groups of each level that says something, coarsest first.

    Parameters
    ----------
    table : DataFrame
    levels : sequence of sequence of str
        Columns that tell the groups of a level.

    Returns
    -------
    list of Index
        (n,) each. A level with one group, or with one row in each, is none.
    """
    found = [groups_of(table, columns) for columns in levels]
    kept = [groups for groups in found if 0 < groups.max() < len(groups) - 1]
    return sorted(kept, key=lambda groups: int(groups.max()))


def fit_levels(response: Floats, design: Floats, levels: Sequence[Index]) -> Levelled:
    """Fit one response with every column at the level at which it was set.

    Parameters
    ----------
    response : Floats
        (n,) all known.
    design : Floats
        (n, k), the intercept first.
    levels : sequence of Index
        Groups of rows, coarsest first; may be empty.

    Raises
    ------
    TooLittleError
        As `fit`.

    Notes
    -----
    In the model of a level all luck at it and below enters its intercepts and residuals, so that means of its groups
    scatter as they do. For balanced nested designs these are the exact tests of the analysis of variance.
    """
    if not levels:
        return Levelled(fit(response, design), (len(response),) * design.shape[1])
    fits = [fit(response, design, groups) for groups in levels]
    finest = len(levels)
    # The intercept is the mean of all, which is told from the coarsest groups.
    at = [0] + [
        next((k for k, groups in enumerate(levels) if not _varies(column, groups)), finest)
        for column in design.T[1:]
    ]
    source = [min(k, finest - 1) for k in at]
    base = fits[-1]
    covariance = base.covariance.copy()
    for i, one in enumerate(source):
        for j, other in enumerate(source):
            covariance[i, j] = fits[min(one, other)].covariance[i, j]
    counts = [int(groups.max()) + 1 for groups in levels] + [len(response)]
    effects = tuple(fits[k].effects[column] for column, k in enumerate(source))
    return Levelled(replace(base, effects=effects, covariance=covariance), tuple(counts[k] for k in at))


def error_of_mean(values: Floats, groups: Index | None) -> float:
    """Return the standard uncertainty of a mean, from what groups differ by; NaN for one value.

    Parameters
    ----------
    values : Floats
        (n,).
    groups : Index, optional
        (n,) what was set up together. Where it is one group or none, values count one by one.

    >>> error_of_mean(np.array([1.0, 3.0, 5.0, 7.0]), np.array([0, 0, 1, 1]))
    2.0
    """
    if groups is not None and len(set(groups)) > 1:
        names, place = np.unique(groups, return_inverse=True)
        values = np.bincount(place, weights=values) / np.bincount(place, minlength=len(names))
    return float(values.std(ddof=1) / np.sqrt(len(values))) if len(values) > 1 else float("nan")


def _varies(column: Floats, groups: Index) -> bool:
    """Return whether a column takes several values inside a group."""
    means = np.bincount(groups, weights=column) / np.bincount(groups)
    return bool(np.abs(column - means[groups]).max() > SAME * np.abs(column).max())


def is_set_in_runs(order: Floats, settings: pd.Series) -> bool:
    """Return whether each setting was tried in one go, over units that follow each other.

    Parameters
    ----------
    order : Floats
        (n,) order of the work.
    settings : Series
        (n,) the setting of each unit.

    >>> is_set_in_runs(np.arange(4.0), pd.Series(["cool", "cool", "warm", "warm"]))
    True
    >>> is_set_in_runs(np.arange(4.0), pd.Series(["cool", "warm", "cool", "warm"]))
    False
    """
    if len(set(order)) < len(order):
        return False
    values = list(settings.to_numpy()[np.argsort(order, kind="stable")])
    changes = sum(one != next_one for one, next_one in pairwise(values))
    levels = len(set(values))
    return changes == levels - 1 and len(values) >= FEWEST_IN_RUN * levels
