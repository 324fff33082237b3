"""What good pulls do in one measure: a centre per region, a common part per sheet, a local part per region.

Ink, wiping and pressure move all regions of a sheet together; so a sheet's deviations are split into their median
(the sheet part) and what each region adds (the local part). Whole-sheet changes are then seen although every region
alone would hide them, and a change of one region is seen against the rest of its own sheet.
"""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Mask
from proofkit.judgement.chance import p_values
from proofkit.judgement.spread import PRIOR_PULLS, common_variance, moderated
from proofkit.judgement.values import Column

MIN_REGIONS_FOR_LOCAL = 3
"""With fewer regions the median does not tell which one is off. [-]"""

LOCAL_FLOOR = 0.5
"""Share of the floor and of the usual spread that a single region has of its own: common practice, ink and film vary
more from sheet to sheet than within one. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """Deviations of one kind with their spread."""

    deviation: Floats
    """(pulls, n) distance from the centre of the other good pulls, on the scale."""
    spread: Floats
    """(pulls, n) standard deviation expected of it, the centre's own uncertainty included."""
    freedom: Floats
    """(n,) degrees of freedom of the spread."""
    p: Floats
    """(pulls, n) p-values; NaN = not tested."""


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """One measure of the edition against its good pulls."""

    column: Column
    centre: Floats
    """(regions,) centre of the good pulls, on the scale."""
    count: Floats
    """(regions,) good pulls that have the measure there."""
    total: Part
    """Per region, all in all."""
    sheet: Part
    """(pulls, 1) the common part."""
    local: Part
    """Per region, against the rest of the sheet; p is NaN where there are too few regions."""
    total_spread: Floats
    """(regions,) between good pulls, on the scale."""
    sheet_spread: float
    has_no_spread: bool
    """True when the good pulls read alike to the last figure, so that nothing but the floor stands for their spread."""


def _median(values: Floats) -> Floats:
    """Return the median over regions, NaN for a pull without any, with no warning."""
    known = np.isfinite(values).any(axis=1)
    result = np.full(values.shape[0], np.nan)
    if known.any():
        result[known] = np.nanmedian(values[known], axis=1)
    return result


def _moments(values: Floats, good: Mask) -> tuple[Floats, Floats, Floats]:
    """Return count, mean and sum of squares about the mean of the good pulls, per column."""
    chosen = values[good]
    known = np.isfinite(chosen)
    count = known.sum(axis=0).astype(np.float64)
    mean = np.where(known, chosen, 0.0).sum(axis=0) / np.maximum(count, 1)
    mean = np.where(count > 0, mean, np.nan)
    squares = np.where(known, (chosen - mean) ** 2, 0.0).sum(axis=0)
    return count, mean, squares


def _part(
    values: Floats, good: Mask, prior: tuple[float, float], floor: Floats, doubt: Floats, column: Column
) -> tuple[Part, Floats]:
    """Test each pull against the good ones, itself left out; also return the spread of the good ones.

    `prior` is a variance and its degrees of freedom; `floor` (n,) the least spread; `doubt` (pulls, n) what the
    uncertainty of a measurement adds beyond that of the good pulls, as a variance.
    """
    count, mean, squares = _moments(values, good)
    variance = squares / np.maximum(count - 1, 1)
    freedom = np.maximum(count - 1, 0) + prior[1]
    spread = np.maximum(np.sqrt(moderated(variance, np.maximum(count - 1, 0), *prior)), floor)
    inside = good[:, None] & np.isfinite(values)
    others = count - inside
    usable = others >= 1
    deviation = np.where(inside, (values - mean) * count / np.maximum(others, 1), values - mean)
    rest = np.maximum(
        squares - np.where(inside, (values - mean) ** 2 * count / np.maximum(others, 1), 0.0), 0.0
    )
    rest_freedom = np.maximum(others - 1, 0)
    own = moderated(rest / np.maximum(rest_freedom, 1), rest_freedom, *prior)
    own = np.maximum(np.where(inside, own, spread**2), floor**2)
    expected = np.sqrt(own * (1 + 1 / np.maximum(others, 1)) + doubt)
    deviation = np.where(usable, deviation, np.nan)
    tested = np.where(others >= 2, deviation, np.nan)
    p = p_values(tested / expected, np.maximum(freedom, 1.0), column.judged.sides)
    return Part(deviation, expected, freedom, p), spread


def _doubt(column: Column, good: Mask) -> Floats:
    """Return the variance by which a value is less certain than those of the good pulls. (pulls, regions)."""
    u2 = column.uncertainties**2
    usual = np.median(u2[good], axis=0) if good.any() else np.zeros(u2.shape[1])
    return np.asarray(np.maximum(u2 - usual, 0.0))


def _is_constant(values: Floats, good: Mask) -> bool:
    chosen = values[good]
    known = np.isfinite(chosen)
    highest = np.where(known, chosen, -np.inf).max(axis=0, initial=-np.inf)
    lowest = np.where(known, chosen, np.inf).min(axis=0, initial=np.inf)
    return bool((highest <= lowest).all())


def fit_column(column: Column, good: Mask, relay: float = 0.0) -> Fit:
    """Fit one measure to the good pulls and test every pull against the others.

    Parameters
    ----------
    column : Column
        (pulls, regions) values on their scale.
    good : Mask
        (pulls,) the pulls that show the natural spread.
    relay : float, default 0
        Scatter between scans of one pull, on the scale: the spread is never below it.

    Returns
    -------
    Fit
    """
    judged = column.judged
    values = column.scaled
    least_total = max(judged.floor, relay)
    usual_u = (
        np.sqrt(np.median(column.uncertainties[good] ** 2, axis=0))
        if good.any()
        else np.zeros(values.shape[1])
    )
    count, centre, _ = _moments(values, good)
    deviation = values - centre
    doubt = _doubt(column, good)
    usable_regions = np.isfinite(deviation).any(axis=0)
    sheet_values = _median(deviation)[:, None]
    sheet, sheet_spread = _part(
        sheet_values, good, (judged.usual**2, PRIOR_PULLS), np.array([least_total]), np.zeros((1, 1)), column
    )
    if column.scaled.shape[1] == 1:
        sheet, sheet_spread = _part(
            values, good, (judged.usual**2, PRIOR_PULLS), np.maximum(least_total, usual_u), doubt, column
        )
        nothing = Part(
            np.zeros(values.shape), np.ones(values.shape), np.ones(1), np.full(values.shape, np.nan)
        )
        return Fit(
            column,
            centre,
            count,
            sheet,
            sheet,
            nothing,
            sheet_spread,
            float(sheet_spread[0]),
            _is_constant(values, good),
        )
    local_values = deviation - sheet_values
    local_count, _, local_squares = _moments(local_values, good)
    local_freedom = np.maximum(local_count - 1, 0)
    prior_variance, prior_freedom = common_variance(
        local_squares / np.maximum(local_freedom, 1), local_freedom
    )
    if prior_freedom == 0:
        prior_variance, prior_freedom = (judged.usual * LOCAL_FLOOR) ** 2, PRIOR_PULLS
    local_floor = np.maximum(least_total * LOCAL_FLOOR, usual_u)
    local, _ = _part(local_values, good, (prior_variance, prior_freedom), local_floor, doubt, column)
    if usable_regions.sum() < MIN_REGIONS_FOR_LOCAL:
        local = Part(local.deviation, local.spread, local.freedom, np.full(values.shape, np.nan))
    prior_total = judged.usual**2 * (1 + LOCAL_FLOOR**2), PRIOR_PULLS
    total, total_spread = _part(
        values, good, prior_total, np.sqrt(least_total**2 + usual_u**2), doubt, column
    )
    return Fit(
        column,
        centre,
        count,
        total,
        sheet,
        local,
        total_spread,
        float(sheet_spread[0]),
        _is_constant(values, good),
    )
