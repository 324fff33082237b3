"""Step-bite strips and baths of a study: what `bite` finds in the rows that a study fits together."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from proofkit.arrays import Floats, Index
from proofkit.columns import BATHS, COURSES, make_table
from proofkit.study.bite import BathSpeed, Course, Power, bath_speed, power_law, rising_course
from proofkit.study.experiment import Experiment
from proofkit.study.levels import groups_at
from proofkit.study.models import TooLittleError
from proofkit.study.parts import ALL, Part, parts_of
from proofkit.study.settings import StudySettings


@dataclass(frozen=True, slots=True, eq=False)
class Strip:
    """The bite of one bath."""

    response: str
    region: str
    bath: str
    """Empty where there is one."""
    times: Floats
    readings: Floats
    course: Course
    power: Power | None


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """Two baths in one response."""

    response: str
    region: str
    speed: BathSpeed
    remark: str


ONE_EACH = (
    "what was bitten in each bath was bitten once and together: what two such bites differ by anyway cannot be told "
    "from the baths, so there is no interval. Bite two plates or more in each, in baths made up anew (column plate or "
    "batch)"
)


def strips(
    observations: pd.DataFrame, experiment: Experiment, settings: StudySettings, responses: Sequence[str]
) -> tuple[tuple[Strip, ...], tuple[Comparison, ...], tuple[str, ...]]:
    """Return the strips of a study, its comparisons of baths, and a sentence for what could not be had."""
    if not settings.bite_time:
        return (), (), ()
    found: list[Strip] = []
    compared: list[Comparison] = []
    remarks: list[str] = []
    for response in responses:
        for part in parts_of(observations, experiment, response, settings.bath):
            _take(part, response, settings, found, remarks)
            if settings.bath:
                _compare(part, response, experiment, settings, compared, remarks)
    return tuple(found), tuple(compared), tuple(dict.fromkeys(remarks))


def _where(response: str, part: Part) -> str:
    return response if part.region == ALL else f"{response} in {part.region}"


def _take(part: Part, response: str, settings: StudySettings, found: list[Strip], remarks: list[str]) -> None:
    baths = [("", part.table)] if not settings.bath else list(part.table.groupby(settings.bath, sort=False))
    for name, rows in baths:
        times = rows[settings.bite_time].to_numpy(dtype=np.float64)
        values = rows[response].to_numpy(dtype=np.float64)
        try:
            course = rising_course(times, values, _coarsest(rows, part))
        except TooLittleError as error:
            remarks.append(f"{_where(response, part)}: {error}.")
            continue
        if np.isnan(course.low).all():
            remarks.append(
                f"{_where(response, part)}: one place or plate for each time, so the course has no interval."
            )
        try:
            power = power_law(times, values, _coarsest(rows, part))
        except TooLittleError:
            power = None
        found.append(Strip(response, part.region, str(name), times, values, course, power))


def _compare(
    part: Part,
    response: str,
    experiment: Experiment,
    settings: StudySettings,
    compared: list[Comparison],
    remarks: list[str],
) -> None:
    baths = tuple(str(name) for name in part.table[settings.bath])
    reference = next(factor.levels[0] for factor in experiment.factors if factor.name == settings.bath)
    try:
        speed = bath_speed(
            part.table[settings.bite_time].to_numpy(dtype=np.float64),
            part.table[response].to_numpy(dtype=np.float64),
            baths,
            reference,
            _coarsest(part.table, part),
        )
    except TooLittleError as error:
        remarks.append(f"{_where(response, part)}: {error}.")
        return
    compared.append(Comparison(response, part.region, speed, ONE_EACH if speed.freedom <= 0 else ""))


def _coarsest(rows: pd.DataFrame, part: Part) -> Index | None:
    """Return the coarsest of what was bitten together in some rows; None where nothing was."""
    levels = groups_at(rows, part.levels)
    return levels[0] if levels else None


def courses_table(found: Sequence[Strip]) -> pd.DataFrame:
    """Return table `courses`."""
    rows: list[dict[str, object]] = []
    for strip in found:
        course, power = strip.course, strip.power
        law = {"exponent": power.exponent.estimate, "u_exponent": power.exponent.error} if power else {}
        rows += [
            {
                "response": strip.response, "region": strip.region, "bath": strip.bath, "time": course.times[k],
                "mean": course.means[k], "n": float((strip.times == course.times[k]).sum()),
                "fitted": course.fitted[k], "low": course.low[k], "high": course.high[k], **law,
            }
            for k in range(len(course.times))
        ]  # fmt: skip
    return make_table(rows, COURSES)


def baths_table(compared: Sequence[Comparison]) -> pd.DataFrame:
    """Return table `baths`."""
    rows: list[dict[str, object]] = [
        {
            "response": one.response, "region": one.region, "bath": one.speed.faster, "reference": one.speed.slower,
            "speed": one.speed.speed, "low": one.speed.low, "high": one.speed.high, "freedom": one.speed.freedom,
            "remark": one.remark,
        }
        for one in compared
    ]  # fmt: skip
    return make_table(rows, BATHS)
