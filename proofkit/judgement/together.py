"""All measures of a sheet together: a distance that knows which of them move in step on good pulls.

Line load, width and core rise and fall together; a sheet on which one rises and another falls can lie within the
limits of each and still be unlike every good pull. Regions times measures exceed the sheets, so the covariance is
drawn towards its diagonal.
"""

import math
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from scipy import optimize

from proofkit.arrays import Floats, Mask
from proofkit.distributions import f_above, f_quantile, normal_exceeded, t_above
from proofkit.judgement.fit import Fit

MIN_GROUP = 2
"""Fewest measures that make a group. [-]"""


def successive_covariance(values: Floats) -> Floats:
    """Return the covariance from what one pull adds to the next, which a lasting shift hardly inflates.

    Parameters
    ----------
    values : Floats
        (n, p) in order of pulling, finite, n of 2 or more.

    Returns
    -------
    Floats
        (p, p) half the mean product of successive differences.

    References
    ----------
    .. [1] D. S. Holmes, A. E. Mergen, Improving the performance of the T-square control chart, Quality Engineering 5
       (1993) 619-625.

    Examples
    --------
    >>> successive_covariance(np.array([[0.0], [2.0], [0.0]])).tolist()
    [[2.0]]
    """
    steps = np.diff(values, axis=0)
    return np.asarray(steps.T @ steps / (2 * len(steps)))


def distances(values: Floats, centre: Floats, covariance: Floats) -> Floats:
    """Return Hotelling's T-squared of each row.

    Parameters
    ----------
    values : Floats
        (n, p)
    centre : Floats
        (p,)
    covariance : Floats
        (p, p) positive definite.

    Returns
    -------
    Floats
        (n,) squared distances. [-]

    Raises
    ------
    numpy.linalg.LinAlgError
        If the covariance is singular: more measures than it can tell apart.

    Examples
    --------
    >>> distances(np.array([[3.0, 4.0]]), np.zeros(2), np.eye(2)).tolist()
    [25.0]
    """
    return np.asarray(contributions(values, centre, covariance).sum(axis=1))


def contributions(values: Floats, centre: Floats, covariance: Floats) -> Floats:
    """Return (n, p) what each measure adds to the squared distance: the rows add up to it.

    A measure that makes up for another one may add a negative amount.
    """
    away = values - centre
    return np.asarray(away * np.linalg.solve(covariance, away.T).T)


GROUPS: dict[str, tuple[str, ...]] = {
    "film_distance": (
        "plate_tone_density",
        "film_ramp_x_density",
        "film_ramp_y_density",
        "film_patch_density",
        "plate_tone_unevenness_density",
        "streak_density",
    ),
    "line_distance": (
        "line_load_um",
        "line_width_um",
        "line_core_density",
        "line_continuity_fraction",
        "line_load_variation",
        "fine_against_broad",
        "light_against_deep",
    ),
    "hatching_distance": ("gaps_against_film", "hatch_open_fraction", "halo_density"),
}
"""Measures that good pulls move together and that one fault moves together."""

MIN_ROWS = 5
"""Fewest good pulls that tell how measures move together. [-] With fewer they are taken as independent."""

DRAWS = 500
"""Simulated editions from which the distribution of a distance is told. [-]"""

_SEED = 20


@dataclass(frozen=True, slots=True, eq=False)
class Together:
    """Squared distances of the pulls from the good ones in one group, each good pull left out of the correlations."""

    names: tuple[str, ...]
    """Of the n measures that the edition has."""
    known: Floats
    """(pulls, n, n) correlations between good pulls, as each pull is judged by them."""
    rows: int
    """How many good pulls told them."""
    scores: Floats
    """(pulls, n) deviations of the sheet part as normal scores; 0 where nothing was measured. [-]"""
    squared: Floats
    """(pulls,) T-squared."""
    parts: Floats
    """(pulls, n) what each measure adds to it."""
    p: Floats
    """(pulls,) chance of a good pull lying as far."""


def normal_scores(fit: Fit) -> Floats:
    """Return (pulls,) the sheet part as normal scores; harmless directions and gaps count as 0."""
    part = fit.sheet
    z = part.deviation[:, 0] / part.spread[:, 0]
    score = np.sign(z) * normal_exceeded(np.maximum(t_above(np.abs(z), part.freedom[0]), 1e-15))
    score = np.where(np.isfinite(part.p[:, 0]), score, 0.0)
    if fit.column.judged.sides == "upper":
        return np.maximum(score, 0.0)
    return np.minimum(score, 0.0) if fit.column.judged.sides == "lower" else np.asarray(score)


def correlations(values: Floats) -> Floats:
    """Return (..., p, p) correlations from successive differences of (..., n, p) rows, drawn towards none.

    Scores have the spread 1 already, so their spread is not asked again. Independent for fewer than `MIN_ROWS` rows.

    References
    ----------
    .. [1] J. Schäfer, K. Strimmer, A shrinkage approach to large-scale covariance matrix estimation, Stat. Appl.
       Genet. Mol. Biol. 4 (2005) article 32: the share that makes the expected squared error least, target D.
    """
    n, p = values.shape[-2:]
    if n < MIN_ROWS:
        return np.broadcast_to(np.eye(p), (*values.shape[:-2], p, p))
    steps = np.diff(values, axis=-2)
    unit = steps / np.maximum(np.sqrt((steps**2).mean(axis=-2, keepdims=True)), 1e-9)
    products = unit[..., :, None] * unit[..., None, :]
    mean = products.mean(axis=-3)
    rows = n - 1
    variance = ((products - mean[..., None, :, :]) ** 2).sum(axis=-3) * rows / (rows - 1) ** 3
    off = ~np.eye(p, dtype=bool)
    # Differences of neighbours share a pull, which leaves two thirds of them worth an independent row.
    noise = 1.5 * variance[..., off].sum(axis=-1)
    share = np.clip(noise / np.maximum((mean[..., off] ** 2).sum(axis=-1), 1e-12), 0.0, 1.0)
    return np.asarray(np.where(off, (1 - share)[..., None, None] * mean, 1.0))


@cache
def _tail(rows: int, measures: int) -> tuple[float, float]:
    """Return scale and second freedom of the F distribution that squared distances of good pulls follow.

    For correlations known from so many rows; simulated with independent measures, and given the same median and 95 %
    point.
    """
    rng = np.random.default_rng(_SEED)
    draws = rng.standard_normal((DRAWS, rows + 1, measures))
    known = correlations(draws[:, :-1])
    last = draws[:, -1, :, None]
    simulated = (last * np.linalg.solve(known, last)).sum(axis=(1, 2)) / measures
    median, high = (float(np.quantile(simulated, point)) for point in (0.5, 0.95))

    def excess(log_freedom: float) -> float:
        freedom = math.exp(log_freedom)
        middle, far = (float(f_quantile(point, measures, freedom)) for point in (0.5, 0.95))
        return far / middle - high / median

    low, wide = math.log(4.0), math.log(1000.0)
    if excess(wide) >= 0:
        freedom = math.exp(wide)
    elif excess(low) <= 0:
        freedom = math.exp(low)
    else:
        freedom = math.exp(float(optimize.brentq(excess, low, wide)))
    scale = median / float(f_quantile(0.5, measures, freedom))
    return scale, freedom


def _chances(squared: Floats, rows: int, measures: int) -> Floats:
    """Return the chance of squared distances as large."""
    scale, freedom = _tail(rows, measures)
    return np.asarray(f_above(squared / measures / scale, measures, freedom))


def together(fits: dict[str, Fit], good: Mask) -> dict[str, Together]:
    """Return the distances of every pull in every group.

    Parameters
    ----------
    fits : dict of str to Fit
    good : Mask
        (pulls,) the pulls that tell how measures move together.

    Returns
    -------
    dict of str to Together
        Groups of which the edition has two measures or more.
    """
    found: dict[str, Together] = {}
    for group, wanted in GROUPS.items():
        names = tuple(name for name in wanted if name in fits)
        if len(names) < MIN_GROUP:
            continue
        scores = np.column_stack([normal_scores(fits[name]) for name in names])
        everyone = correlations(scores[good])
        known = np.broadcast_to(everyone, (len(scores), *everyone.shape)).copy()
        for pull in np.flatnonzero(good):
            others = good.copy()
            others[pull] = False
            known[pull] = correlations(scores[others])
        unmeasured = np.zeros(len(scores))
        blank = Together(names, known, int(good.sum()), scores, unmeasured, scores, unmeasured)
        found[group] = distance_of_scores(blank, scores)
    return found


def distance_of_scores(joint: Together, scores: Floats) -> Together:
    """Return the distances of other scores (pulls, n) under the correlations that are known."""
    solved = np.linalg.solve(joint.known, scores[..., None])[..., 0]
    parts = scores * solved
    squared = np.maximum(parts.sum(axis=1), 0.0)
    p = _chances(squared, joint.rows, len(joint.names))
    return replace(joint, scores=scores, squared=squared, parts=parts, p=p)
