"""What good pulls do in one measure: a centre per region, a common part per sheet, a local part per region.

Ink, wiping and pressure move all regions of a sheet together; so a sheet's deviations are split into their median
(the sheet part) and what each region adds (the local part). Whole-sheet changes are then seen although every region
alone would hide them, and a change of one region is seen against the rest of its own sheet.
"""

from dataclasses import dataclass, replace

import numpy as np

from proofkit.arrays import Floats, Mask
from proofkit.judgement.parts import Known, Part, against_good, moments
from proofkit.judgement.spread import PRIOR_PULLS, common_variance
from proofkit.judgement.values import Column

MIN_REGIONS_FOR_LOCAL = 3
"""With fewer regions the median does not tell which one is off. [-]"""

LOCAL_FLOOR = 0.5
"""Share of the floor and of the usual spread that a single region has of its own: common practice, ink and film vary
more from sheet to sheet than within one. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """One measure of the edition against its good pulls."""

    column: Column
    total: Part
    """Per region, all in all."""
    sheet: Part
    """(pulls, 1) the common part."""
    local: Part
    """Per region, against the rest of the sheet; p is NaN where there are too few regions."""
    has_no_spread: bool
    """True when the good pulls read alike to the last figure, so that nothing but the floor stands for their spread."""

    @property
    def centre(self) -> Floats:
        """(regions,) centre of the good pulls, on the scale."""
        return self.total.centre

    @property
    def sheet_spread(self) -> float:
        """Spread of the common part between good pulls, on the scale."""
        return float(self.sheet.good_spread[0])


def _median(values: Floats) -> Floats:
    """Return (pulls, 1) medians over regions, NaN for a pull without any, with no warning."""
    known = np.isfinite(values).any(axis=1)
    result = np.full((values.shape[0], 1), np.nan)
    if known.any():
        result[known, 0] = np.nanmedian(values[known], axis=1)
    return result


def _is_constant(values: Floats, good: Mask) -> bool:
    chosen = values[good]
    known = np.isfinite(chosen)
    highest = np.where(known, chosen, -np.inf).max(axis=0, initial=-np.inf)
    lowest = np.where(known, chosen, np.inf).min(axis=0, initial=np.inf)
    return bool((highest <= lowest).all())


def _usual_uncertainty(column: Column, good: Mask) -> Floats:
    """Return (regions,) the root of the median squared uncertainty of the good pulls."""
    if not good.any():
        return np.zeros(column.scaled.shape[1])
    return np.asarray(np.sqrt(np.median(column.uncertainties[good] ** 2, axis=0)))


def _local(column: Column, values: Floats, good: Mask, known: Known) -> Part:
    """Return the local part; regions draw their spread from each other before they draw it from the trade."""
    count, _, squares = moments(values, good)
    freedom = np.maximum(count - 1, 0.0)
    prior = common_variance(squares / np.maximum(freedom, 1.0), freedom)
    if prior[1] == 0:
        prior = ((column.judged.usual * LOCAL_FLOOR) ** 2, PRIOR_PULLS)
    part = against_good(values, good, replace(known, prior=prior))
    if np.isfinite(values).any(axis=0).sum() < MIN_REGIONS_FOR_LOCAL:
        return replace(part, p=np.full(values.shape, np.nan))
    return part


def common_part(fit: Fit, scaled: Floats | None = None) -> Floats:
    """Return (pulls, 1) what all regions of a sheet have in common: the median distance from their centres.

    Of the values that were fitted, or of others (pulls, regions) on the same scale.
    """
    away = (fit.column.scaled if scaled is None else scaled) - fit.centre
    return away if away.shape[1] == 1 else _median(away)


@dataclass(frozen=True, slots=True)
class Hand:
    """How this printer's hand compares with the usual one, over all measures."""

    variance_ratio: float = 1.0
    """Variance between good pulls over the usual variance. [-]"""
    freedom: float = PRIOR_PULLS
    """Degrees of freedom that this is worth. [-]"""


MOST_HAND_FREEDOM = 20.0
"""However alike the measures of an edition are, their common hand counts for no more pulls than this. [-]"""


def hand_of(fits: dict[str, Fit]) -> Hand:
    """Return the hand that the sheet parts of all measures have in common.

    Measures that vary less than their floor say nothing of the hand and are left out, which errs on the wide side.
    What the others have in common is an empirical Bayes estimate over measures (see `spread.common_variance`): where
    their ratios to the usual variance agree, each spread is known better than its own pulls tell.
    """
    parts = [
        (fit.sheet.seen[0] / fit.column.judged.usual**2, fit.sheet.count[0] - 1)
        for fit in fits.values()
        if fit.column.judged.finds and fit.sheet.seen[0] > fit.column.judged.floor**2
    ]
    if not parts:
        return Hand()
    ratio, freedom = common_variance(
        *(np.array(column, dtype=np.float64) for column in zip(*parts, strict=True))
    )
    if not freedom > PRIOR_PULLS:
        return Hand()
    return Hand(ratio, min(freedom, MOST_HAND_FREEDOM))


def fit_column(
    column: Column, good: Mask, relay: float = 0.0, anchor: Mask | None = None, hand: Hand | None = None
) -> Fit:
    """Fit one measure to the good pulls and test every pull against the others.

    Parameters
    ----------
    column : Column
        (pulls, regions) values on their scale.
    good : Mask
        (pulls,) the pulls that show the natural spread.
    relay : float, default 0
        Scatter between scans of one pull, on the scale: the spread is never below it.
    anchor : Mask, optional
        (pulls,) the confirming pulls, when there are enough of them; see `parts.Known`.
    hand : Hand, optional
        What other measures tell of this printer's hand; the usual one when not given.

    Returns
    -------
    Fit
    """
    judged, values = column.judged, column.scaled
    hand = hand or Hand()
    usual = judged.usual**2 * hand.variance_ratio
    least = max(judged.floor, relay)
    usual_u = _usual_uncertainty(column, good)
    doubt = np.maximum(column.uncertainties**2 - usual_u**2, 0.0)
    shared = column.shared[:, None] ** 2
    alone = Known((usual, hand.freedom), np.maximum(least, usual_u), doubt + shared, judged.sides, anchor)
    constant = _is_constant(values, good)
    if values.shape[1] == 1:
        part = against_good(values, good, alone)
        untested = replace(part, deviation=np.zeros(values.shape), p=np.full(values.shape, np.nan))
        return Fit(column, part, part, untested, constant)
    total = against_good(
        values,
        good,
        replace(alone, prior=(usual * (1 + LOCAL_FLOOR**2), hand.freedom), floor=np.hypot(least, usual_u)),
    )
    deviation = values - total.centre
    common = _median(deviation)
    sheet = against_good(common, good, replace(alone, floor=np.array([least]), doubt=shared))
    local = _local(
        column,
        deviation - common,
        good,
        replace(alone, floor=np.maximum(least * LOCAL_FLOOR, usual_u), doubt=doubt),
    )
    return Fit(column, total, sheet, local, constant)
