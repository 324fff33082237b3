"""Ways in which a measure can run over the pulls, and how well each of them fits."""

import itertools
import math
from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Mask
from proofkit.judgement.order import mann_kendall, theil_sen
from proofkit.judgement.outliers import strays

STRAYS_SHARE = 0.25
"""Most strays about a course, as a share of the pulls. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """One measure of the sheet as a whole, strays left out."""

    values: Floats
    places: Floats

    @property
    def known(self) -> Mask:
        """(n,) where there is a value."""
        return np.asarray(np.isfinite(self.values))


def without_strays(values: Floats, places: Floats) -> Floats:
    """Return values without those that stray from the line alone; two neighbours that stray alike may be a level."""
    line = theil_sen(values, places)
    if not math.isfinite(line.slope):
        return values
    left = values - line.intercept - line.slope * places
    odd = strays(left, int(STRAYS_SHARE * np.isfinite(values).sum()))
    at = np.flatnonzero(np.isfinite(values))
    result = values.copy()
    for index, place in enumerate(at):
        beside = [at[k] for k in (index - 1, index + 1) if 0 <= k < at.size]
        together = any(odd[other] and np.sign(left[other]) == np.sign(left[place]) for other in beside)
        if odd[place] and not together:
            result[place] = math.nan
    return result


def criterion(squares: float, count: int, terms: int) -> float:
    """Return Schwarz's criterion; the lower, the better the model for its number of terms."""
    return count * math.log(max(squares, 1e-300) / count) + terms * math.log(count)


def squares_about_levels(series: Series, firsts: tuple[int, ...]) -> tuple[float, Floats]:
    """Return the sum of squares about the means of the levels, and the level at every pull."""
    bounds = (0, *firsts, series.values.size)
    level = np.full(series.values.size, math.nan)
    for start, end in itertools.pairwise(bounds):
        part = series.values[start:end]
        if np.isfinite(part).any():
            level[start:end] = np.nanmean(part)
    return float(np.nansum((series.values - level) ** 2)), level


def _stretches(series: Series, resets: tuple[int, ...]) -> tuple[float, float]:
    """Return the chance of rises or falls within the stretches between resets, and their common slope."""
    bounds = (0, *resets, series.values.size)
    parts = [slice(a, b) for a, b in itertools.pairwise(bounds)]
    trends = [mann_kendall(series.values[part]) for part in parts]
    total, variance = sum(t.s for t in trends), sum(t.variance for t in trends)
    slopes = [theil_sen(series.values[part], series.places[part]).slope for part in parts]
    known = [slope for slope in slopes if math.isfinite(slope)]
    if variance <= 0 or not known:
        return 1.0, math.nan
    z = (abs(total) - 1) / math.sqrt(variance) if total else 0.0
    return math.erfc(max(z, 0.0) / math.sqrt(2)), float(np.median(known))


def falls_back(series: Series, noted: tuple[int, ...]) -> tuple[float, float, tuple[int, ...], float]:
    """Return chance, slope, resets and sum of squares of a drift that falls back; chance 1 where there is none.

    Where no cleaning is noted, the pulls are tried at which the value jumps against its drift as no other does.
    """
    at = np.flatnonzero(series.known)
    jumps = np.diff(series.values[at])
    if noted:
        asked, tries = tuple(k for k in noted if at.size and at[0] < k <= at[-1]), 1
    else:
        odd = strays(jumps, int(STRAYS_SHARE * jumps.size))
        asked, tries = tuple(int(at[k + 1]) for k in np.flatnonzero(odd)), at.size
    if not asked:
        return 1.0, math.nan, (), math.inf
    p, slope = _stretches(series, asked)
    across = np.array([jumps[np.searchsorted(at, k) - 1] for k in asked])
    back = asked if noted else tuple(k for k, jump in zip(asked, across, strict=True) if jump * slope < 0)
    if not back or not math.isfinite(slope) or np.median(across) * slope >= 0:
        return 1.0, math.nan, (), math.inf
    flat = Series(series.values - slope * series.places, series.places)
    squares, _ = squares_about_levels(flat, back)
    return min(1.0, p * tries), slope, back, squares
