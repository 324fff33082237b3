"""Test the pulls in one quantity: each against the good pulls, itself left out."""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Mask
from proofkit.distributions import chi_square_quantile, t_quantile
from proofkit.judgement.chance import p_values
from proofkit.judgement.order import MIN_RUN, mann_kendall
from proofkit.judgement.scales import Sides
from proofkit.judgement.spread import moderated

MOST_FREEDOM = 60.0
"""Degrees of freedom beyond which a floor is not believed to be known. [-] The spread to a tenth of itself."""

DRIFT_CHANCE = 0.01
"""A drift among good pulls is believed when chance alone would give it less often than this. [-]"""

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
    seen: Floats
    """(n,) their variance as it is, NaN for fewer than two."""


def moments(values: Floats, chosen: Mask) -> tuple[Floats, Floats, Floats]:
    """Return count, mean and sum of squares about the mean of the chosen pulls, per column; NaN is left out."""
    rows = values[chosen]
    known = np.isfinite(rows)
    count = known.sum(axis=0).astype(np.float64)
    mean = np.where(known, rows, 0.0).sum(axis=0) / np.maximum(count, 1)
    mean = np.where(count > 0, mean, np.nan)
    squares = np.where(known, (rows - mean) ** 2, 0.0).sum(axis=0)
    return count, mean, squares


def steady_squares(values: Floats, chosen: Mask) -> tuple[Floats, Floats]:
    """Return sums of squares with a steady drift left out, and how many values they are worth, per column.

    Where the chosen pulls rise or fall steadily in their order (Mann-Kendall at `DRIFT_CHANCE`), a drift has joined
    them: a wearing plate, a warming one. What one pull adds to the next is then told by successive differences, which a
    slow drift does not touch; about the mean it would widen the limits and hide itself.

    Parameters
    ----------
    values : Floats
        (pulls, n) in order of pulling.
    chosen : Mask
        (pulls,)

    Returns
    -------
    tuple of Floats
        (n,) sums of squares, about the mean or from successive differences, and counts.

    References
    ----------
    .. [1] J. von Neumann et al., The mean square successive difference, Ann. Math. Stat. 12 (1941) 153-162: half of
       it estimates the variance; its freedom is 2(n-1)^2/(3n-4).
    """
    count, _, squares = moments(values, chosen)
    squares, worth = squares.copy(), count.copy()
    for column in np.flatnonzero(count >= MIN_RUN):
        run = values[chosen, column]
        run = run[np.isfinite(run)]
        if mann_kendall(run).p < DRIFT_CHANCE:
            n = run.size
            worth[column] = 1.0 + 2.0 * (n - 1) ** 2 / (3.0 * n - 4.0)
            squares[column] = min(
                squares[column], float((np.diff(run) ** 2).mean()) / 2 * (worth[column] - 1.0)
            )
    return squares, worth


def _variance(squares: Floats, count: Floats, known: Known) -> tuple[Floats, Floats]:
    """Return the variance of the good pulls, drawn towards the usual one and not below the floor's, and its freedom.

    Where the floor stands in, the variance is better known than the pulls alone tell: by Satterthwaite's rule
    (JCGM 100, G.4.1) degrees of freedom grow with the square of its ratio to the variance that was seen.
    """
    freedom = np.maximum(count - 1, 0.0)
    seen = moderated(squares / np.maximum(freedom, 1.0), freedom, *known.prior)
    used = np.maximum(seen, known.floor**2)
    total = freedom + known.prior[1]
    return used, np.minimum(total * (used / np.maximum(seen, 1e-300)) ** 2, np.maximum(total, MOST_FREEDOM))


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
    variance, _ = _variance(squares, count, known)
    reach = t_quantile((1 + HELD_WITH) / 2, freedom) * np.sqrt(variance / np.maximum(count, 1))
    largest = variance * freedom / chi_square_quantile(1 - HELD_WITH, freedom)
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
        A pull is not tested where fewer than two other good pulls have a value, nor where all good pulls read alike
        and it reads the same: there is nothing that chance could have moved.
    """
    count, mean, squares = moments(values, good)
    low, high, largest = _held(values, known)
    centre = np.clip(mean, low, high)
    steady, worth = steady_squares(values, good)
    variance, freedom = _variance(steady, worth, known)
    variance = np.minimum(variance, largest)
    inside = good[:, None] & np.isfinite(values)
    others = count - inside
    pull = np.where(inside, (values - mean) / np.maximum(others, 1.0), 0.0)
    deviation = np.where(others >= 1, values - centre + pull, np.nan)
    without, _ = _variance(np.maximum(squares - pull**2 * others * count, 0.0), others, known)
    without = np.where(worth < count, variance, without)
    own = np.where(inside, np.minimum(without, largest), variance)
    spread = np.sqrt(own * (1 + 1 / np.maximum(others, 1.0)) + known.doubt)
    still = (squares == 0) & (values == mean)
    tested = np.where((others >= 2) & ~still, deviation, np.nan)
    p = p_values(tested / spread, np.maximum(freedom, 1.0), known.sides)
    seen = np.where(count > 1, squares / np.maximum(count - 1, 1.0), np.nan)
    return Part(centre, np.sqrt(variance), deviation, spread, freedom, p, count, seen)
