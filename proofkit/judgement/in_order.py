"""What the order of printing argues: wear, loss of burr, another mix of ink. Never from darkness alone."""

import itertools
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from proofkit.arrays import Floats, Mask
from proofkit.distributions import t_below
from proofkit.edition import MeasuredEdition
from proofkit.judgement.comparable import pulls_in_order
from proofkit.judgement.course import Course, RunOrder, undisturbed
from proofkit.judgement.fit import Fit, common_part
from proofkit.judgement.good_pulls import GoodPulls
from proofkit.judgement.order import MIN_RUN, mann_kendall
from proofkit.judgement.scales import Judged
from proofkit.judgement.values import Values

SURVIVES_CHANCE = 0.01
"""Wear has to survive correction for the film with less chance than this. [-]"""

FINE_FIRST_CHANCE = 0.05
"""Chance at which fine or light work is said to fall more than the rest. [-]"""

INK_MEASURES = ("ink_a", "ink_b", "line_core_density")
"""Measures that step when another mix of ink is taken, in the order in which they are believed."""

NOT_WEAR = frozenset(
    {
        "plate_tone_density",
        "gaps_against_film",
        "bevel_density",
        "paper_density",
        "blur_um",
        "ink_a",
        "ink_b",
        "film_ramp_x_density",
        "film_ramp_y_density",
        "film_patch_density",
    }
)
"""Measures whose slope the copper does not explain."""

_CLEANED = re.compile(
    r"\b(plate|cloth|tarlatan|muslin)\b[^.;]*\b(clean(ed)?|wash(ed)?|fresh|new|changed)\b"
    r"|\b(clean(ed)?|wash(ed)?|fresh|new|changed)\b[^.;]*\b(plate|cloth|tarlatan|muslin)\b",
    re.IGNORECASE,
)
"""A note on a pull that says that the plate was cleaned or the cloth changed before it."""


def is_cleaning(note: str) -> bool:
    """Return whether a note tells of a cleaning or a fresh cloth.

    >>> is_cleaning("plate cleaned, then pulled"), is_cleaning("fresh tarlatan"), is_cleaning("clean sky")
    (True, True, False)
    """
    return _CLEANED.search(note) is not None


def run_order(measured: MeasuredEdition, pulls: tuple[str, ...]) -> RunOrder:
    """Return where the pulls stand in the order of printing, and what pulls.csv notes along it.

    Parameters
    ----------
    measured : MeasuredEdition
    pulls : tuple of str
        Those that can be compared, in the order of pulls.csv.

    Returns
    -------
    RunOrder
        Where all pulls are numbers, the numbers are the places, so that spoilt and missing sheets leave gaps; else the
        rows of pulls.csv are counted. Numbers that do not rise put the order in doubt.
    """
    every = pulls_in_order(measured)
    notes = {pull.pull: pull.notes for pull in measured.edition.pulls}
    doubt = ""
    if all(re.fullmatch(r"\d{1,9}", pull) for pull in every):
        number = {pull: float(pull) for pull in every}
        falling = [b for a, b in itertools.pairwise(every) if number[b] <= number[a]]
        if falling:
            doubt = (
                f"Rows of pulls.csv are not in the order of their numbers (pull '{falling[0]}' comes late), so nothing "
                "is told from the order of printing. Sort the rows by pull."
            )
    else:
        number = {pull: float(index) for index, pull in enumerate(every)}
    resets, batches = list[int](), list[int]()
    for index, pull in enumerate(pulls):
        own = notes.get(pull, {})
        if index and any(is_cleaning(own.get(column, "")) for column in ("note", "wiping")):
            resets.append(index)
        before = [notes.get(other, {}).get("ink", "") for other in pulls[:index]]
        last = next((ink for ink in reversed(before) if ink), "")
        if own.get("ink") and last and own["ink"] != last:
            batches.append(index)
    return RunOrder(tuple(number[pull] for pull in pulls), tuple(resets), tuple(batches), doubt)


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """What the order of pulls shows, once for the edition."""

    courses: dict[str, Course]
    """By measure; empty for a short run or a doubtful order."""
    wear: str
    """Measure of line load that falls as a wearing plate makes it fall; empty for none."""
    burr: str
    """The same of drypoint against other work."""
    batch: str
    """Measure that steps as another mix of ink makes it step; empty for none."""
    is_known: bool
    """False when the run is too short or its order in doubt."""
    doubt: str = ""
    """Why the order is in doubt."""

    @property
    def explained(self) -> frozenset[str]:
        """Measures whose course is the copper's, and no fault of a pull."""
        if not (self.wear or self.burr):
            return frozenset()
        believed = {name for name, one in self.courses.items() if one.is_believed}
        return frozenset(believed - NOT_WEAR - {self.batch})


def _falls(fit: Fit | None, usable: Mask, chance: float) -> bool:
    if fit is None:
        return False
    values = common_part(fit)[usable, 0]
    trend = mann_kendall(values)
    return bool(np.isfinite(values).sum() >= MIN_RUN and trend.s < 0 and trend.p / 2 < chance)


def survives(values: Floats, places: Floats, beside: Floats) -> bool:
    """Return whether values fall with their places once what goes with `beside` is taken out.

    Parameters
    ----------
    values, places, beside : Floats
        (n,) NaN = missing.

    Returns
    -------
    bool
        By Student's t of the slope in a fit of both, one-sided at `SURVIVES_CHANCE`.
    """
    known = np.isfinite(values) & np.isfinite(beside)
    count = int(known.sum())
    if count < MIN_RUN:
        return False
    columns = [np.ones(count), places[known] - places[known].mean()]
    if np.ptp(beside[known]) > 0:
        columns.append(beside[known] - beside[known].mean())
    design = np.column_stack(columns)
    solution, _, rank, _ = np.linalg.lstsq(design, values[known], rcond=None)
    freedom = count - int(rank)
    left = values[known] - design @ solution
    variance = float((left**2).sum()) / freedom * float(np.linalg.pinv(design.T @ design)[1, 1])
    if variance <= 0:
        return bool(solution[1] < 0)
    return float(t_below(solution[1] / math.sqrt(variance), freedom)) < SURVIVES_CHANCE


def _wear(fits: Mapping[str, Fit], courses: dict[str, Course], usable: Mask, places: Floats) -> str:
    """Return the measure in which the plate wears.

    Line load falls steadily over the run, fine or light work more than the rest, and it is not the film that takes it
    along. A course that falls back after a cleaning is none of the copper's.
    """
    name = next((one for one in ("fine_line_load_um", "line_load_um") if one in courses), "")
    course = courses.get(name)
    if course is None or not (course.is_believed and course.kind == "slope" and course.per_pull.slope < 0):
        return ""
    fine_first = any(
        _falls(fits.get(one), usable, FINE_FIRST_CHANCE)
        for one in ("fine_against_broad", "light_against_deep")
    )
    load = np.where(usable, common_part(fits[name])[:, 0], math.nan)
    film = fits.get("plate_tone_density")
    beside = np.zeros(load.size) if film is None else common_part(film)[:, 0]
    return name if fine_first and survives(load, places, beside) else ""


def argue(fits: dict[str, Fit], courses: dict[str, Course], order: RunOrder) -> Run:
    """Return what the courses of an edition argue.

    Parameters
    ----------
    fits : dict of str to Fit
        The fits that the courses were told from.
    courses : dict of str to Course
    order : RunOrder

    Returns
    -------
    Run
    """
    pulls = len(order.places)
    usable = undisturbed(fits, pulls)
    burr = courses.get("drypoint_against_rest")
    has_burr = burr is not None and burr.is_believed and burr.kind == "slope" and burr.per_pull.slope < 0
    steps = [one for one in INK_MEASURES if (c := courses.get(one)) and c.is_believed and c.kind == "step"]
    batch = next((one for one in steps if is_worth(fits[one].column.judged, courses[one])), "")
    return Run(
        courses,
        _wear(fits, courses, usable, np.asarray(order.places)),
        "drypoint_against_rest" if has_burr else "",
        batch,
        is_known=bool(courses),
        doubt=order.doubt,
    )


def steps_of_change(judged: Judged, change: Floats) -> Floats:
    """Return changes on the scale in units of the smallest difference that matters."""
    size = np.expm1(change) if judged.scale == "log" else change
    return np.asarray(size / judged.matters)


def is_worth(judged: Judged, course: Course) -> bool:
    """Return whether a course leaves the standard anywhere by what matters."""
    return bool((np.abs(steps_of_change(judged, course.change)) >= 1).any())


def without_courses(values: Values, courses: dict[str, Course]) -> Values:
    """Return the values with every believed slope and step taken out, as if all pulls stood beside the standard."""
    columns = dict(values.columns)
    for name, course in courses.items():
        if course.is_believed:
            columns[name] = replace(columns[name], scaled=columns[name].scaled - course.by_region)
    return replace(values, columns=columns)


def with_courses(good: GoodPulls, courses: dict[str, Course], explained: frozenset[str]) -> GoodPulls:
    """Return the good pulls with courses put back into the deviations, but for those that the copper explains."""
    fits = dict(good.fits)
    for name, course in courses.items():
        if not course.is_believed or name in explained:
            continue
        fit = fits[name]
        total = replace(fit.total, deviation=fit.total.deviation + course.by_region)
        sheet = replace(fit.sheet, deviation=fit.sheet.deviation + course.change[:, None])
        fits[name] = replace(fit, total=total, sheet=sheet)
    return replace(good, fits=fits)
