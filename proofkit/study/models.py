"""Effects of factors on one response: a linear model, or a mixed one where several rows come from one pull.

Rows of one pull (or plate) share its luck with ink and wiping. Where there are several of them, that luck is a random
intercept, fitted by restricted maximum likelihood. Intervals use Student's t with the degrees of freedom that the
design has for each term: those between pulls for what was varied from pull to pull, those within for what varies
inside one. For balanced designs these are the exact tests of the textbooks on split plots. This module loads
statsmodels, which takes a second; it is imported by studies alone.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy import optimize, stats
from statsmodels.regression.linear_model import OLS

from proofkit.arrays import Floats, Index

POWER = 0.8
"""Chance with which an effect of the least detectable size would be found: common practice of design. [-]"""

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True, eq=False)
class Effect:
    """One coefficient."""

    estimate: float
    error: float
    """Standard error; NaN where the design leaves nothing to tell it from."""
    freedom: float
    """Degrees of freedom of that error."""
    low: float
    high: float
    """95 % interval."""
    p: float
    detectable: float
    """Size that would be found in 80 of 100 such experiments. [as the estimate]"""


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """A fitted model."""

    effects: tuple[Effect, ...]
    """One a column of the design."""
    covariance: Floats
    """(k, k) of the coefficients."""
    residuals: Floats
    """(n,) what neither factors nor groups explain."""
    fitted: Floats
    """(n,) what the factors explain."""
    residual_sd: float
    group_sd: float
    """Between groups; 0 without groups, or where none is found; NaN where settings leave no group to tell it from."""
    model: str
    """`linear` or `mixed`."""


class TooLittleError(ValueError):
    """The rows do not suffice for the model."""


def fit(response: Floats, design: Floats, groups: Index | None = None) -> Fitted:
    """Fit one response.

    Parameters
    ----------
    response : Floats
        (n,) all known.
    design : Floats
        (n, k) with the intercept as its first column, of full rank.
    groups : Index, optional
        (n,) pull or plate of each row; left out or all different: a linear model.

    Returns
    -------
    Fitted

    Raises
    ------
    TooLittleError
        If a column cannot be told from the others, or no row is left over to tell the error from.

    References
    ----------
    .. [1] NIST StRD linear regression and analysis of variance (certified values in the tests).
    .. [2] J. C. Pinheiro, D. M. Bates, Mixed-Effects Models in S and S-PLUS, Springer 2000, 2.4.2: degrees of freedom
       by the level at which a term varies (from memory).
    """
    rows, columns = design.shape
    # Columns differ in size by orders of magnitude: rank and arithmetic are those of columns of unit length.
    scale = np.sqrt((design**2).sum(axis=0))
    if (scale == 0).any() or np.linalg.matrix_rank(design / scale) < columns:
        raise TooLittleError("some settings always go together, so that their effects cannot be told apart")
    if rows <= columns:
        asked = "1 effect and its error" if columns == 2 else f"{columns - 1} effects and their error"
        raise TooLittleError(
            f"{rows} {'row' if rows == 1 else 'rows'} cannot tell {asked}. Give {columns + 1} rows or more"
        )
    compact = None if groups is None else np.asarray(np.unique(groups, return_inverse=True)[1], dtype=np.intp)
    if compact is None or compact.max() + 1 == rows:
        return _linear(response, design)
    return _mixed(response, design, compact)


def _linear(response: Floats, design: Floats) -> Fitted:
    centre = float(
        response.mean()
    )  # leading digits that all values share would cost digits of what they differ by
    found = OLS(response - centre, design).fit(method="qr")
    params = np.array(found.params, dtype=np.float64)
    params[0] += centre
    freedom = float(found.df_resid)
    effects = tuple(
        effect(float(value), float(error), freedom) for value, error in zip(params, found.bse, strict=True)
    )
    return Fitted(
        effects,
        np.asarray(found.cov_params(), dtype=np.float64),
        np.asarray(found.resid, dtype=np.float64),
        np.asarray(found.fittedvalues, dtype=np.float64) + centre,
        math.sqrt(found.scale),
        0.0,
        "linear",
    )


def _mixed(response: Floats, design: Floats, groups: Index) -> Fitted:
    """Fit with a random intercept; for a given ratio of variances that is least squares of partly centred rows."""
    centre = float(response.mean())
    shifted = response - centre
    freedom = contained_freedom(design, groups)
    # With a setting for each group the likelihood is flat in the ratio: rounding would choose it.
    is_told = freedom[0] > 0
    ratio = _variance_ratio(shifted, design, groups) if is_told else 0.0
    found = OLS(
        _partly_centred(shifted[:, None], groups, ratio)[:, 0], _partly_centred(design, groups, ratio)
    ).fit(method="qr")
    params = np.array(found.params, dtype=np.float64)
    fitted = design @ params
    left = shifted - fitted
    effects = tuple(
        effect(float(value), float(error), freedom)
        for value, error, freedom in zip(params, found.bse, freedom, strict=True)
    )
    intercept = effect(effects[0].estimate + centre, effects[0].error, effects[0].freedom)
    return Fitted(
        (intercept, *effects[1:]),
        np.asarray(found.cov_params(), dtype=np.float64),
        left - _luck(left, groups, ratio),
        fitted + centre,
        math.sqrt(found.scale),
        math.sqrt(ratio * found.scale) if is_told else math.nan,
        "mixed",
    )


LARGEST_RATIO = 1e6
"""Variance between groups over that within, up to which it is looked for; beyond it rows of a group are copies. [-]"""


def _partly_centred(values: Floats, groups: Index, ratio: float) -> Floats:
    """Return rows less a part of their group's mean, which makes rows of one group independent."""
    count = np.bincount(groups)
    means = np.stack([np.bincount(groups, weights=column) / count for column in values.T], axis=1)
    part = 1.0 - 1.0 / np.sqrt(1.0 + ratio * count)
    return np.asarray(values - (part[:, None] * means)[groups])


def _variance_ratio(response: Floats, design: Floats, groups: Index) -> float:
    """Return the ratio of variances, between over within groups, by restricted maximum likelihood; 0 at its edge."""
    count = np.bincount(groups)
    rows, columns = design.shape

    def badness(log_ratio: float) -> float:
        ratio = math.exp(log_ratio)
        x = _partly_centred(design, groups, ratio)
        y = _partly_centred(response[:, None], groups, ratio)[:, 0]
        orthogonal, triangle = np.linalg.qr(x)
        squares = float(((y - orthogonal @ (orthogonal.T @ y)) ** 2).sum())
        spread = 2.0 * float(np.log(np.abs(np.diag(triangle))).sum())
        least = max(squares, np.finfo(np.float64).tiny)
        return float((rows - columns) * math.log(least) + np.log1p(ratio * count).sum() + spread)

    edge = math.log(1.0 / LARGEST_RATIO)
    # The criterion can have its edge value on a plateau, so a coarse look comes before the fine one.
    places = np.linspace(edge, math.log(LARGEST_RATIO), 57)
    best = int(np.argmin([badness(place) for place in places]))
    if best == 0:
        return 0.0
    low, high = places[best - 1], places[min(best + 1, len(places) - 1)]
    found = optimize.minimize_scalar(badness, bounds=(low, high), method="bounded")
    return float(np.exp(found.x))


def _luck(left: Floats, groups: Index, ratio: float) -> Floats:
    """Return each row's share of its group's luck: group means drawn towards zero as far as they are noise."""
    count = np.bincount(groups)
    means = np.bincount(groups, weights=left) / count
    return np.asarray((means * ratio * count / (1.0 + ratio * count))[groups], dtype=np.float64)


def contained_freedom(design: Floats, groups: Index) -> tuple[float, ...]:
    """Return the degrees of freedom of each column's error by the level at which it varies.

    Parameters
    ----------
    design : Floats
        (n, k) with the intercept first.
    groups : Index
        (n,) numbered from 0.

    Returns
    -------
    tuple of float
        Between groups for columns that are the same all through a group, within groups for the others; 0 where
        nothing is left over.
    """
    count = np.bincount(groups)
    means = np.stack([np.bincount(groups, weights=column) / count for column in design.T], axis=1)
    inner = design - means[groups]
    varies = np.sqrt((inner**2).sum(axis=0)) > 1e-9 * np.sqrt((design**2).sum(axis=0))
    inside = int(np.linalg.matrix_rank(inner[:, varies])) if varies.any() else 0
    outside = int(np.linalg.matrix_rank(means[:, ~varies]))
    within = float(design.shape[0] - len(count) - inside)
    between = float(len(count) - outside)
    return tuple(max(0.0, within if varying else between) for varying in varies)


def effect(estimate: float, error: float, freedom: float) -> Effect:
    """Return an effect with its interval; without degrees of freedom the estimate alone.

    >>> round(effect(2.0, 1.0, 1e9).detectable, 3)
    2.802
    """
    if freedom <= 0:
        nothing = math.nan
        return Effect(estimate, nothing, 0.0, nothing, nothing, nothing, nothing)
    reach = float(stats.t.ppf(0.5 + CONFIDENCE / 2, freedom))
    p = 2.0 * float(stats.t.sf(abs(estimate) / error, freedom)) if error > 0 else math.nan
    found_in = reach + float(stats.t.ppf(POWER, freedom))
    return Effect(
        estimate, error, freedom, estimate - reach * error, estimate + reach * error, p, found_in * error
    )


@dataclass(frozen=True, slots=True)
class Joint:
    """Test of several coefficients together."""

    f: float
    numerator: float
    denominator: float
    p: float


def joint_test(fitted: Fitted, columns: list[int]) -> Joint:
    """Test whether the coefficients of `columns` are all zero.

    Returns
    -------
    Joint
        NaN where the design leaves no degrees of freedom. For one-way layouts this is the F of the analysis of
        variance.
    """
    values = np.array([fitted.effects[column].estimate for column in columns])
    freedom = min(fitted.effects[column].freedom for column in columns)
    count = float(len(columns))
    if freedom <= 0:
        return Joint(math.nan, count, 0.0, math.nan)
    part = fitted.covariance[np.ix_(columns, columns)]
    f = float(values @ np.linalg.solve(part, values)) / count
    return Joint(f, count, freedom, float(stats.f.sf(f, count, freedom)))
