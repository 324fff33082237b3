"""The course of each measure over the run of pulls: steady, a slope, a step, or a drift that falls back.

A wearing plate, a new mix of ink or a warming plate move many pulls a little. Each pull alone stays within its limits,
and pull by pull the drift would join the good ones and widen the limits as it goes. So the course is looked for first,
from all pulls together; then pulls are judged against the course, and the course against the standard.
"""

import itertools
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from proofkit.arrays import Floats, Mask
from proofkit.distributions import t_above
from proofkit.judgement.chance import adjusted
from proofkit.judgement.course_models import (
    Series,
    criterion,
    falls_back,
    squares_about_levels,
    without_strays,
)
from proofkit.judgement.fit import Fit, common_part
from proofkit.judgement.order import MIN_RUN, Slope, mann_kendall, theil_sen
from proofkit.judgement.steps import best_step, levels

BELIEVED = 0.01
"""False discovery rate over the measures at which a course is believed. [-] Stricter than for single sheets, as one
wrong course would flag many."""

CLEARLY = 6.0
"""By how much the criterion of steps has to be better: strong evidence (R. E. Kass, A. E. Raftery, Bayes factors, J.
Am. Stat. Assoc. 90 (1995) 773-795). [-]"""

OTHER_LEVEL = 0.001
"""Chance below which a level is another one than the standard's. [-] A run that steps away and comes back has come back
to the standard unless there is strong evidence that it has not: a whole stretch of pulls is flagged at once."""

DISTURBED = 3.5
"""A pull this far out in one of `THIS_PULL` has a fault of its own and does not tell a course. [standard deviations]"""

UNTOUCHED = frozenset({"ink_a", "ink_b", "paper_density", "bevel_density"})
"""Measures that the faults of `THIS_PULL` leave alone: all pulls tell their course."""

THIS_PULL = (
    "doubling_fraction",
    "crease_mm",
    "film_patch_density",
    "load_grain_fraction",
    "streak_density",
    "gaps_against_film",
    "halo_density",
    "set_off_density",
    "plate_tone_unevenness_density",
)
"""Measures that neither wear nor ink nor a warming plate moves."""

Kind = Literal["steady", "slope", "step", "falls back"]


@dataclass(frozen=True, slots=True)
class RunOrder:
    """Where the pulls stand in the order of printing."""

    places: tuple[float, ...]
    """Number of each pull, gaps for missing sheets."""
    resets: tuple[int, ...] = ()
    """Indices of pulls before which a cleaning is noted."""
    batches: tuple[int, ...] = ()
    """Indices of pulls from which on another ink is noted."""
    doubt: str = ""
    """Why the order is not known; nothing is told from it then."""


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """What one measure does over the run, on its scale."""

    kind: Kind
    per_pull: Slope
    """Theil and Sen's slope; of the stretches between resets where it falls back."""
    firsts: tuple[int, ...]
    """Indices of the first pulls of new levels, or of pulls at which it falls back."""
    p: float
    """Chance of as clear a course in a steady run. [-]"""
    q: float
    """The same with the false discovery rate over all measures. [-]"""
    change: Floats
    """(pulls,) distance of the course from where it stands at the standard, for the sheet as a whole."""
    by_region: Floats
    """(pulls, regions) the same region by region."""

    @property
    def is_believed(self) -> bool:
        """Whether chance is out of the question."""
        return self.kind != "steady" and self.q <= BELIEVED


def undisturbed(fits: dict[str, Fit], pulls: int) -> Mask:
    """Return (pulls,) the pulls without a clear fault of their own."""
    result = np.ones(pulls, dtype=bool)
    for name in THIS_PULL:
        fit = fits.get(name)
        if fit is not None:
            away = np.nan_to_num(fit.sheet.deviation[:, 0] / fit.sheet.spread[:, 0])
            result &= away < DISTURBED if fit.column.judged.sides == "upper" else np.abs(away) < DISTURBED
    return result


def _of_steps(squares: float, count: int, firsts: tuple[int, ...]) -> float:
    """Return the criterion of steps: stairs fit a slope nearly as well as a line, so they must fit clearly better."""
    return criterion(squares, count, 1 + 2 * len(firsts)) + CLEARLY if firsts else math.inf


def _steady(column_shape: tuple[int, int]) -> Course:
    none = Slope(math.nan, math.nan, math.nan, math.nan)
    return Course("steady", none, (), 1.0, 1.0, np.zeros(column_shape[0]), np.zeros(column_shape))


def course_of(
    values: Floats, common: Floats, usable: Mask, order: RunOrder, standard: int, good: Mask
) -> Course:
    """Return the course of one measure.

    Parameters
    ----------
    values : Floats
        (pulls, regions) on the judged scale.
    common : Floats
        (pulls,) what all regions of a sheet have in common, from the centre.
    usable : Mask
        (pulls,) pulls that may tell a course.
    order : RunOrder
    standard : int
        Index of the standard.
    good : Mask
        (pulls,) the good pulls so far.

    Returns
    -------
    Course
        `steady` for fewer than `MIN_RUN` pulls. Of the others the one with the least Schwarz criterion.

    References
    ----------
    .. [1] G. Schwarz, Estimating the dimension of a model, Ann. Stat. 6 (1978) 461-464.
    """
    places = np.asarray(order.places)
    series = Series(without_strays(np.where(usable, common, math.nan), places), places)
    count = int(series.known.sum())
    if count < MIN_RUN or np.nanvar(series.values) <= 0:
        return _steady(values.shape)
    line = theil_sen(series.values, places)
    squares = float(np.nansum((series.values - line.intercept - line.slope * places) ** 2))
    flat = float(np.nanvar(series.values)) * count
    batches = order.batches or None
    step = best_step(series.values, batches)
    firsts = levels(series.values, BELIEVED, batches) or ((step.first,) if step else ())
    stepped, _ = squares_about_levels(series, firsts)
    back_p, back_slope, back, back_squares = falls_back(series, order.resets)
    free = 1 if order.resets else 2
    models: list[tuple[float, Kind]] = [
        (criterion(flat, count, 1), "steady"),
        (criterion(squares, count, 2), "slope"),
        (_of_steps(stepped, count, firsts), "step"),
        (
            criterion(back_squares, count, 2 + free * len(back)) if back_p <= BELIEVED else math.inf,
            "falls back",
        ),
    ]
    kind = min(models)[1]
    steady = _steady(values.shape)
    if kind == "slope":
        p = mann_kendall(series.values).p
        change = line.slope * (places - places[standard])
        by_region = _region_slopes(values, usable, places, line.slope) * (places - places[standard])[:, None]
        return Course("slope", line, (), p, 1.0, change, by_region)
    if kind == "step" and step is not None:
        kept = np.where(series.known[:, None], values, math.nan)
        change = _level_change(common, series.known, firsts, standard, good)
        by_region = np.column_stack(
            [_level_change(kept[:, k], series.known, firsts, standard, good) for k in range(values.shape[1])]
        )
        return Course("step", line, firsts, step.p, 1.0, change, by_region)
    if kind == "falls back":
        slope = Slope(back_slope, math.nan, math.nan, math.nan)
        return Course("falls back", slope, back, back_p, 1.0, steady.change, steady.by_region)
    return steady


def _region_slopes(values: Floats, usable: Mask, places: Floats, otherwise: float) -> Floats:
    """Return (regions,) slopes; the sheet's where a region has too few values for its own."""
    kept = np.where(usable[:, None], values, math.nan)
    slopes = [
        theil_sen(kept[:, k], places).slope if np.isfinite(kept[:, k]).sum() >= MIN_RUN else otherwise
        for k in range(values.shape[1])
    ]
    return np.asarray(np.nan_to_num(np.array(slopes), nan=otherwise))


def _level_change(values: Floats, known: Mask, firsts: tuple[int, ...], standard: int, good: Mask) -> Floats:
    """Return (pulls,) each pull's level less that of the standard; 0 for a level that may be the same by chance.

    Of the standard's level only the good pulls count: sheets of one fault may stand beside it.
    """
    kept = np.where(known, values, math.nan)
    _, level = squares_about_levels(Series(kept, np.arange(values.size, dtype=np.float64)), firsts)
    bounds = (0, *firsts, values.size)
    number = np.searchsorted(firsts, np.arange(values.size), side="right")
    own = number[standard]
    freedom = max(int(np.isfinite(kept).sum()) - len(bounds) + 1, 1)
    spread = math.sqrt(float(np.nansum((kept - level) ** 2)) / freedom)
    count = np.array([np.isfinite(kept[a:b]).sum() for a, b in itertools.pairwise(bounds)])
    beside = (number == own) & good & np.isfinite(kept)
    count[own] = beside.sum()
    origin = float(kept[beside].mean()) if beside.any() else math.nan
    change = np.zeros(values.size)
    for other in range(len(count)):
        if other == own or not count[other] or not count[own]:
            continue
        away = float(level[number == other][0]) - origin
        error = spread * math.sqrt(1 / count[other] + 1 / count[own])
        if error == 0 or 2 * t_above(abs(away) / error, freedom) * len(firsts) <= OTHER_LEVEL:
            change[number == other] = away
    return change


def courses_of(fits: dict[str, Fit], order: RunOrder, standard: int, good: Mask) -> dict[str, Course]:
    """Return the course of every measure, believed or not.

    Parameters
    ----------
    fits : dict of str to Fit
        Measures fitted to the good pulls so far.
    order : RunOrder
    standard : int
        Index of the standard.
    good : Mask
        (pulls,) the good pulls so far.

    Returns
    -------
    dict of str to Course
        Empty when the order is in doubt or the run too short.
    """
    pulls = len(order.places)
    if order.doubt or pulls < MIN_RUN:
        return {}
    usable = undisturbed(fits, pulls)
    found = {
        name: course_of(
            fit.column.scaled,
            common_part(fit)[:, 0],
            np.ones(pulls, dtype=bool) if name in UNTOUCHED else usable,
            order,
            standard,
            good,
        )
        for name, fit in fits.items()
    }
    q = adjusted(np.array([course.p for course in found.values()]))
    return {
        name: Course(one.kind, one.per_pull, one.firsts, one.p, float(rate), one.change, one.by_region)
        for (name, one), rate in zip(found.items(), q, strict=True)
    }
