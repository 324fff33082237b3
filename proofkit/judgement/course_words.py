"""The courses of an edition in plain words."""

import math

from proofkit.judgement.course import Course
from proofkit.judgement.fit import Fit
from proofkit.judgement.in_order import Run
from proofkit.judgement.scales import Judged

DRIFT_HINTS = {
    "plate_tone_density": ("the film", "warming plate, loading cloth, another wiping?"),
    "line_load_um": ("line load", "ink growing stiffer or looser, or the pressure?"),
    "line_core_density": ("the core of the lines", "ink, pressure or dampness?"),
    "gaps_against_film": ("the ground between lines", "ink drying in the hatching?"),
    "paper_density": ("the bare margin", "another lot of paper, or another session at the scanner?"),
    "bevel_density": ("ink in the plate mark", "is the bevel still wiped?"),
}
"""Measures whose course is told by itself: what they are called, and what to think of."""


AS_PERCENT = frozenset(
    {
        "fine_against_broad",
        "light_against_deep",
        "drypoint_against_rest",
        "load_ramp_x_fraction",
        "load_ramp_y_fraction",
    }
)
"""Differences of logarithms, and shares: told in per cent."""


def _amount(judged: Judged, size: float) -> str:
    """Return a change on the scale in the unit that people use, with a true minus sign."""
    if judged.scale == "log" or judged.measure in AS_PERCENT:
        text = f"{math.expm1(size):+.1%}".replace("%", " %")
    else:
        text = f"{size:+.3f} D" if "density" in judged.measure else f"{size:+.2f}"
    return text.replace("-", "−")


def _pulls(pulls: tuple[str, ...], firsts: tuple[int, ...]) -> str:
    return ", ".join(f"'{pulls[first]}'" for first in firsts)


def course_in_words(name: str, fit: Fit, course: Course, pulls: tuple[str, ...]) -> str:
    """Return one sentence on a believed course.

    Parameters
    ----------
    name : str
        What the measure is called.
    fit : Fit
    course : Course
    pulls : tuple of str

    Returns
    -------
    str
        Without a cause.
    """
    judged = fit.column.judged
    match course.kind:
        case "slope":
            slope, low, high = course.per_pull.slope, course.per_pull.lower, course.per_pull.upper
            return (
                f"{name} {'rises' if slope > 0 else 'falls'} steadily in the order of pulls, {_amount(judged, slope)} "
                f"at each (95 % limits {_amount(judged, low)} to {_amount(judged, high)})"
            )
        case "step":
            last = course.firsts[-1]
            size = float(course.change[last] - course.change[last - 1])
            where = (
                f"from pull '{pulls[last]}' on"
                if len(course.firsts) == 1
                else f"at {_pulls(pulls, course.firsts)}"
            )
            return f"{name} steps to another level {where} ({_amount(judged, size)})"
        case "falls back":
            slope = course.per_pull.slope
            back = "falls back" if slope > 0 else "comes back"
            return (
                f"{name} {'rises' if slope > 0 else 'falls'} by {_amount(judged, slope)} at each pull and {back} at "
                f"{_pulls(pulls, course.firsts)}: the hand or the ink, not the plate"
            )
        case _:
            return f"{name} is steady"


def on_courses(fits: dict[str, Fit], run: Run, pulls: tuple[str, ...]) -> list[str]:
    """Return what the order of printing shows, one sentence each."""
    said = [run.doubt] if run.doubt else []

    def told(measure: str, name: str) -> str:
        text = course_in_words(name, fits[measure], run.courses[measure], pulls)
        return text[0].upper() + text[1:]

    if run.wear:
        said.append(
            f"{told(run.wear, 'load of the finest lines')}, fine or light work more than the rest, and beyond what the "
            "film explains: the plate may be wearing."
        )
    if run.burr:
        said.append(f"{told(run.burr, 'drypoint')}, while other work holds: the burr may be going.")
    if run.batch:
        said.append(f"{told(run.batch, 'ink of the lines')}: another mix of ink?")
    spoken = {run.wear, run.burr, run.batch} | run.explained
    if run.batch:
        spoken |= {"line_load_um", "line_core_density"}
    for measure, (name, hint) in DRIFT_HINTS.items():
        course = run.courses.get(measure)
        if course is not None and course.is_believed and measure not in spoken:
            said.append(f"{told(measure, name)}. {hint[0].upper()}{hint[1:]}")
    return said
