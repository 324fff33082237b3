"""The run of the main measures with their running means and limits, as a table for the charts."""

import numpy as np
import pandas as pd

from proofkit.arrays import Floats
from proofkit.distributions import normal_exceeded
from proofkit.judgement.course_words import course_in_words
from proofkit.judgement.fit import Fit, common_part
from proofkit.judgement.good_pulls import GoodPulls
from proofkit.judgement.in_order import Run, steps_of_change
from proofkit.judgement.order import MIN_RUN
from proofkit.judgement.running import (
    CUSUM_ALLOWANCE,
    CUSUM_LIMIT,
    RULE_WORDS,
    SMOOTHING,
    cusum,
    ewma,
    run_rules,
)
from proofkit.judgement.spread import run_limits
from proofkit.judgement.values import Values

RUNNING = (
    "line_load_um",
    "line_core_density",
    "fine_against_broad",
    "light_against_deep",
    "plate_tone_density",
    "ink_a",
    "ink_b",
    "paper_density",
)
"""Measures that get a running chart: ink, copper, wiping, colour and the scanner."""

RUNNING_COLUMNS = ("measure", "pull", "value", "smoothed", "lower", "upper", "is_out")

COURSE_COLUMNS = ("measure", "kind", "from_pull", "per_pull", "lower", "upper", "change", "q_value", "words")

TOLD = 0.5
"""Courses are listed from this share of the difference that matters on. [-]"""

RUN_CHANCE = 0.05
"""Chance that any running mean of a steady edition leaves its limits. [-]"""

CAP = 3.0
"""A value counts as no farther than this from the running mean before it, so that one odd sheet is no drift and a
lasting change is followed all the same. [spreads]"""


def run_limit(count: int, charts: int) -> float:
    """Return the limits, in standard deviations, that chance passes anywhere in the edition with `RUN_CHANCE`.

    Bonferroni over charts and pulls, which errs on the wide side as neighbouring means move together.

    >>> round(run_limit(25, 1), 2)
    3.09
    """
    return float(normal_exceeded(RUN_CHANCE / (2 * max(count, 1) * max(charts, 1))))


def bounded(scores: Floats) -> Floats:
    """Return scores cut to within `CAP` of the running mean before each of them.

    >>> bounded(np.array([0.0, 50.0, 0.0])).tolist()
    [0.0, 3.0, 0.0]
    """
    result, level = scores.copy(), 0.0
    for index, score in enumerate(scores):
        if np.isfinite(score):
            result[index] = float(np.clip(score, level - CAP, level + CAP))
            level += SMOOTHING * (result[index] - level)
    return result


def _spread(fit: Fit, chosen: Floats) -> float:
    """Return the spread from one good pull to the next, but not below what the fit believes to be the least."""
    near = run_limits(chosen).spread
    least = fit.column.judged.floor
    return max(near, least) if np.isfinite(near) else fit.sheet_spread


def running_table(values: Values, good: GoodPulls) -> pd.DataFrame:
    """Return one row per measure and pull: the value common to all regions, its running mean and the limits of that.

    Parameters
    ----------
    values : Values
        As measured.
    good : GoodPulls

    Returns
    -------
    pandas.DataFrame
        Columns `RUNNING_COLUMNS`, in the unit of the measure; empty for a run of fewer than `MIN_RUN` pulls. The
        spread is that from one good pull to the next (moving range), which a drift does not widen.
    """
    rows: list[dict[str, object]] = []
    count = len(values.pulls)
    names = [
        name
        for name in RUNNING
        if name in good.fits
        and np.isfinite(good.fits[name].centre).any()
        and np.isfinite(common_part(good.fits[name])).sum() >= MIN_RUN
    ]
    if count < MIN_RUN:
        return pd.DataFrame(rows, columns=list(RUNNING_COLUMNS))
    for name in names:
        fit = good.fits[name]
        raw = common_part(fit, values.columns[name].scaled)[:, 0]
        spread = _spread(fit, common_part(fit)[good.good, 0])
        smooth = ewma(bounded(raw / spread), SMOOTHING, run_limit(count, len(names)))
        middle = float(np.nanmedian(fit.centre))

        def natural(
            away: Floats, fit: Fit = fit, middle: float = middle, spread: float = spread
        ) -> list[float]:
            return [float(value) for value in fit.column.natural(middle + away * spread)]

        rows.extend(
            {
                "measure": name,
                "pull": pull,
                "value": value,
                "smoothed": mean,
                "lower": low,
                "upper": high,
                "is_out": bool(out),
            }
            for pull, value, mean, low, high, out in zip(
                values.pulls,
                natural(raw / spread),
                natural(smooth.values),
                natural(-smooth.reach),
                natural(smooth.reach),
                smooth.signals,
                strict=True,
            )
        )
    return pd.DataFrame(rows, columns=list(RUNNING_COLUMNS))


def courses_table(values: Values, good: GoodPulls, run: Run) -> pd.DataFrame:
    """Return one row per measure whose course is believed.

    Parameters
    ----------
    values : Values
        As measured.
    good : GoodPulls
    run : Run

    Returns
    -------
    pandas.DataFrame
        Columns `COURSE_COLUMNS`. `per_pull` with its 95 % limits and `change`, the largest distance of the course from
        the standard, are on the judged scale (natural logarithm of sizes); `words` says it in a sentence, with where
        the cumulative sum dates the departure and which run rules are met.
    """
    rows: list[dict[str, object]] = []
    for name, course in run.courses.items():
        fit = good.fits[name]
        size = np.abs(steps_of_change(fit.column.judged, course.change)).max(initial=0.0)
        is_told = fit.column.judged.finds or name in (run.wear, run.burr, run.batch)
        if not (course.is_believed and is_told) or (course.kind != "falls back" and size < TOLD):
            continue
        raw = common_part(fit, values.columns[name].scaled)[:, 0]
        spread = _spread(fit, common_part(fit)[good.good, 0])
        far = course.change[int(np.argmax(np.abs(course.change)))] if course.change.size else 0.0
        said = course_in_words(name, fit, course, values.pulls)
        said += _dated(raw / spread, values.pulls)
        rows.append(
            {
                "measure": name,
                "kind": course.kind,
                "from_pull": ", ".join(values.pulls[first] for first in course.firsts),
                "per_pull": course.per_pull.slope,
                "lower": course.per_pull.lower,
                "upper": course.per_pull.upper,
                "change": float(far),
                "q_value": course.q,
                "words": said,
            }
        )
    return pd.DataFrame(rows, columns=list(COURSE_COLUMNS))


def _dated(scores: Floats, pulls: tuple[str, ...]) -> str:
    """Return since when a measure has left the centre, and which rules it meets at the last pull of the excursion."""
    capped = bounded(scores)
    sums = cusum(capped, CUSUM_ALLOWANCE)
    smooth = ewma(capped, SMOOTHING, run_limit(len(pulls), 1))
    out = np.flatnonzero(smooth.signals | (np.maximum(sums.high, sums.low) > CUSUM_LIMIT))
    if out.size == 0:
        return ""
    signal = int(out[0])
    onset = sums.onset(signal, is_high=bool(sums.high[signal] > sums.low[signal]))
    met = [words for words, mask in zip(RULE_WORDS, run_rules(scores), strict=True) if mask[onset:].any()]
    text = f"; running mean or cumulative sum signals at pull '{pulls[signal]}'"
    if onset < signal:
        text += f", the sum dates it from pull '{pulls[onset]}'"
    # The later rules speak of more pulls: the last one that is met says most of a lasting change.
    return text + (f" ({met[-1]})" if met else "")
