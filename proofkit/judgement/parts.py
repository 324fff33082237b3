"""Test the pulls in one quantity: each against the good pulls, itself left out."""

from dataclasses import dataclass

import numpy as np
from scipy import stats

from proofkit.arrays import Floats, Mask
from proofkit.judgement.chance import p_values
from proofkit.judgement.scales import Sides
from proofkit.judgement.spread import moderated

HELD_WITH = 0.95
"""Confidence of the limits in which confirming pulls hold centre and spread. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """What is known of a quantity before the edition is looked at."""

    prior: tuple[float, float]
    """Variance of the usual spread, and how many degrees of freedom it counts for."""
    floor: Floats
    """(n,) least spread."""
    doubt: Floats
    """(pulls, n) or what broadcasts: variance by which a value is less certain than those of the good pulls."""
    sides: Sides
    anchor: Mask | None
    """(pulls,) the confirming pulls; None when none are named."""


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """Deviations of one kind with their spread."""

    centre: Floats
    """(n,) of the good pulls, on the scale."""
    good_spread: Floats
    """(n,) standard deviation between good pulls, on the scale."""
    deviation: Floats
    """(pulls, n) distance from the centre of the other good pulls, on the scale."""
    spread: Floats
    """(pulls, n) standard deviation expected of it, the centre's own uncertainty included."""
    freedom: Floats
    """(n,) degrees of freedom of the spread."""
    p: Floats
    """(pulls, n) p-values; NaN = not tested."""
    count: Floats
    """(n,) good pulls that have a value."""


def moments(values: Floats, chosen: Mask) -> tuple[Floats, Floats, Floats]:
    """Return count, mean and sum of squares about the mean of the chosen pulls, per column; NaN is left out."""
    rows = values[chosen]
    known = np.isfinite(rows)
    count = known.sum(axis=0).astype(np.float64)
    mean = np.where(known, rows, 0.0).sum(axis=0) / np.maximum(count, 1)
    mean = np.where(count > 0, mean, np.nan)
    squares = np.where(known, (rows - mean) ** 2, 0.0).sum(axis=0)
    return count, mean, squares


def _variance(squares: Floats, count: Floats, known: Known) -> Floats:
    """Return the variance of the good pulls drawn towards the usual one, and not below the floor's."""
    freedom = np.maximum(count - 1, 0.0)
    return np.asarray(
        np.maximum(moderated(squares / np.maximum(freedom, 1.0), freedom, *known.prior), known.floor**2)
    )


def _held(values: Floats, known: Known) -> tuple[Floats, Floats, Floats]:
    """Return the lowest and highest centre and the largest variance that the confirming pulls allow.

    Without these a slow drift joins the good pulls one by one and widens the limits as it goes. Limits at `HELD_WITH`
    by Student's t and by chi-square, from the confirming pulls alone; infinite where there are fewer than two.
    """
    columns = values.shape[1]
    if known.anchor is None:
        return np.full(columns, -np.inf), np.full(columns, np.inf), np.full(columns, np.inf)
    count, middle, squares = moments(values, known.anchor)
    freedom = np.maximum(count - 1, 0.0) + known.prior[1]
    variance = _variance(squares, count, known)
    reach = stats.t.ppf((1 + HELD_WITH) / 2, freedom) * np.sqrt(variance / np.maximum(count, 1))
    largest = variance * freedom / stats.chi2.ppf(1 - HELD_WITH, freedom)
    enough = count >= 2
    return (
        np.where(enough, middle - reach, -np.inf),
        np.where(enough, middle + reach, np.inf),
        np.where(enough, largest, np.inf),
    )


def against_good(values: Floats, good: Mask, known: Known) -> Part:
    """Test every pull against the good ones.

    Parameters
    ----------
    values : Floats
        (pulls, n) on a scale on which spread does not depend on size; NaN = not measured.
    good : Mask
        (pulls,) the pulls that show the natural spread; one of them is tested against the others.
    known : Known

    Returns
    -------
    Part
        A pull is not tested where fewer than two other good pulls have a value.
    """
    count, mean, squares = moments(values, good)
    low, high, largest = _held(values, known)
    centre = np.clip(mean, low, high)
    variance = np.minimum(_variance(squares, count, known), largest)
    inside = good[:, None] & np.isfinite(values)
    others = count - inside
    pull = np.where(inside, (values - mean) / np.maximum(others, 1.0), 0.0)
    deviation = np.where(others >= 1, values - centre + pull, np.nan)
    without = _variance(np.maximum(squares - pull**2 * others * count, 0.0), others, known)
    own = np.where(inside, np.minimum(without, largest), variance)
    spread = np.sqrt(own * (1 + 1 / np.maximum(others, 1.0)) + known.doubt)
    freedom = np.maximum(count - 1, 0.0) + known.prior[1]
    tested = np.where(others >= 2, deviation, np.nan)
    p = p_values(tested / spread, np.maximum(freedom, 1.0), known.sides)
    return Part(centre, np.sqrt(variance), deviation, spread, freedom, p, count)
