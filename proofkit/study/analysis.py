"""Effects, summaries and checks of a whole study from its table of observations."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy import stats

from proofkit.columns import EFFECTS, RESIDUALS, SUMMARY, make_table
from proofkit.study.design import Design, Term, build_design
from proofkit.study.experiment import BATCH, Experiment, Factor
from proofkit.study.levels import error_of_mean, fit_levels, groups_at, is_set_in_runs
from proofkit.study.models import Effect, Fitted, TooLittleError, joint_test
from proofkit.study.parts import ALL, ORDER, Part, parts_of
from proofkit.study.residuals import residual_checks
from proofkit.study.settings import StudySettings
from proofkit.wording import listed

FEWEST_LEVELS_JOINT = 3

IN_RUNS = (
    "each setting was kept for one run of pulls: the interval takes them as set up one by one. If something was made "
    "up once for a run (a bath, an ink), name it in a column batch"
)
"""Said of a factor that was changed between runs of pulls only."""


@dataclass(frozen=True, slots=True, eq=False)
class Analysis:
    """What a study found."""

    effects: pd.DataFrame
    """Table `effects`."""
    summary: pd.DataFrame
    """Table `summary`."""
    residuals: pd.DataFrame
    """Table `residuals`."""
    fits: dict[tuple[str, str], tuple[pd.DataFrame, Fitted]]
    """(response, region) -> rows that were fitted, and the model."""
    remarks: tuple[str, ...]
    """What could not be answered and why, one sentence each."""


def analyse(observations: pd.DataFrame, experiment: Experiment, settings: StudySettings, responses: Sequence[str],
            single_u: dict[tuple[str, str], float]) -> Analysis:  # fmt: skip
    """Fit every response.

    Parameters
    ----------
    observations : DataFrame
        One row per reading: keys that there are (plate, pull, region), `order`, factors, responses.
    experiment : Experiment
    settings : StudySettings
    responses : sequence of str
    single_u : dict
        (response, region) -> standard deviation of a single scan, where a re-lay study knows it.
    """
    effects: list[dict[str, object]] = []
    summary: list[dict[str, object]] = []
    checks: list[dict[str, object]] = []
    fits: dict[tuple[str, str], tuple[pd.DataFrame, Fitted]] = {}
    remarks: list[str] = []
    for response in responses:
        unfitted: dict[str, list[str]] = {}
        for part in parts_of(observations, experiment, response, settings.bath):
            where = {"response": response, "region": part.region}
            summary += [{**where, **row} for row in _summary(part, experiment.factors, response, single_u)]
            try:
                rows, fitted, found = _fit_part(part, experiment, settings, response)
            except TooLittleError as error:
                unfitted.setdefault(str(error), []).append(part.region)
                continue
            fits[response, part.region] = (part.table, fitted)
            effects += [{**where, **row} for row in rows]
            remarks += [f"{response}: {remark}" for remark in found]
            order = part.table[ORDER].to_numpy(dtype=np.float64)
            checks += [{**where, **row} for row in residual_checks(fitted, order)]
        remarks += [f"{response}{_in(regions)}: {why}." for why, regions in unfitted.items()]
    table = _with_q(make_table(effects, EFFECTS))
    return Analysis(
        table,
        make_table(summary, SUMMARY),
        make_table(checks, RESIDUALS),
        fits,
        tuple(dict.fromkeys(remarks)),
    )


def _in(regions: list[str]) -> str:
    return "" if regions == [ALL] else f" in {listed(regions)}"


def _with_q(table: pd.DataFrame) -> pd.DataFrame:
    """Fill in false discovery rates over all effects of the study (Benjamini and Hochberg 1995)."""
    known = table["p_value"].notna().to_numpy()
    if known.any():
        table.loc[known, "q_value"] = stats.false_discovery_control(table.loc[known, "p_value"].to_numpy())
    return table


def _fit_part(
    part: Part, experiment: Experiment, settings: StudySettings, response: str
) -> tuple[list[dict[str, object]], Fitted, list[str]]:
    factors, remarks = _varying(part, experiment.factors)
    is_relative = response in settings.relative
    values = part.table[response].to_numpy(dtype=np.float64)
    if is_relative and not (values > 0).all():
        raise TooLittleError(
            "it has values of 0 or less and therefore no proportions. Take it out of relative"
        )
    block = list(part.table["region"]) if part.is_blocked and len(set(part.table["region"])) > 1 else None
    design = build_design(part.table, factors, settings.interactions, block)
    levels = groups_at(part.table, part.levels)
    found = fit_levels(np.log(values) if is_relative else values, design.columns, levels)
    fitted, in_runs = found.fitted, _set_in_runs(part, factors)
    rows = _effect_rows(design, fitted, in_runs, is_relative=is_relative)
    for row, place in zip(rows, _asked_places(design), strict=True):
        row["units"] = float(found.units[place])
    for factor in factors:
        joint = _joint_row(design, fitted, factor, is_relative=is_relative)
        if joint:
            least = min(found.units[place] for place in design.places(factor.name))
            rows.append({**joint, "units": float(least)})
    common = {"rows": float(len(values)), "model": fitted.model}
    return [{**row, **common} for row in rows], fitted, remarks


def _asked_places(design: Design) -> list[int]:
    """Return the columns that are effects of factors."""
    return [place for place, term in enumerate(design.terms) if term.factor]


def _set_in_runs(part: Part, factors: Sequence[Factor]) -> set[str]:
    """Return the factors whose settings were each tried in one run of pulls, with no word on what was made up anew."""
    told = ((BATCH,), ("plate",))
    if "pull" not in part.table.columns or any(columns in told for columns in part.levels):
        return set()
    units = part.table.drop_duplicates("pull")
    order = units[ORDER].to_numpy(dtype=np.float64)
    return {factor.name for factor in factors if is_set_in_runs(order, units[factor.name])}


def _varying(part: Part, factors: Sequence[Factor]) -> tuple[tuple[Factor, ...], list[str]]:
    kept = tuple(factor for factor in factors if len(set(part.table[factor.name])) > 1)
    if not kept:
        raise TooLittleError("no factor varies where it was measured")
    place = "" if part.region == ALL else f" in {part.region}"
    return kept, [
        f"factor {factor.name} never varies where it was measured{place}."
        for factor in factors
        if factor not in kept
    ]


def _effect_rows(
    design: Design, fitted: Fitted, in_runs: set[str], *, is_relative: bool
) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = []
    scatter = math.hypot(fitted.residual_sd, fitted.group_sd)
    for term, one in zip(design.terms, fitted.effects, strict=True):
        if not term.factor:
            continue
        # As a share: exp(b) - 1; the interval goes through the same function.
        shown = _as_share(one) if is_relative else one
        whole = one.estimate * term.reach
        rows.append(
            {
                "term": term.name,
                "step": term.step,
                "estimate": shown.estimate,
                "u_estimate": shown.error,
                "low": shown.low,
                "high": shown.high,
                "freedom": one.freedom,
                "over_range": math.expm1(whole) if is_relative else whole,
                "effect_sd": abs(whole) / scatter if scatter > 0 else math.nan,
                "p_value": one.p,
                "detectable": shown.detectable,
                "remark": _remark(one, term) or (IN_RUNS if term.factor in in_runs else ""),
            }
        )
    return rows


def _as_share(one: Effect) -> Effect:
    factor = math.exp(one.estimate)
    return replace(
        one,
        estimate=math.expm1(one.estimate),  # as the reach over all that was tried
        error=factor * one.error,
        low=math.expm1(one.low),
        high=math.expm1(one.high),
        detectable=math.expm1(one.detectable),
    )


def _remark(one: Effect, term: Term) -> str:
    if one.freedom <= 0:
        return (
            f"one unit for each setting of {term.factor}: what units differ by cannot be told from the setting, so "
            "there is no interval. Repeat settings"
        )
    return "few units: the interval is wide" if one.freedom < 3 else ""


def _joint_row(
    design: Design, fitted: Fitted, factor: Factor, *, is_relative: bool
) -> dict[str, object] | None:
    """Return the test of all levels of a factor together, with the largest difference between two of them."""
    places = design.places(factor.name)
    if len(places) + 1 < FEWEST_LEVELS_JOINT or factor.kind == "number":
        return None
    levels = [0.0, *(fitted.effects[place].estimate for place in places)]
    largest = max(levels) - min(levels)
    found = joint_test(fitted, places)
    scatter = math.hypot(fitted.residual_sd, fitted.group_sd)
    size = math.expm1(largest) if is_relative else largest
    return {
        "term": f"{factor.label}: all levels",
        "step": "largest difference",
        "estimate": size,
        "freedom": found.denominator,
        "over_range": size,
        "effect_sd": largest / scatter if scatter > 0 else math.nan,
        "p_value": found.p,
    }


def _summary(
    part: Part, factors: Sequence[Factor], response: str, single_u: dict[tuple[str, str], float]
) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = []
    names = [factor.name for factor in factors]
    levels = groups_at(part.table, part.levels)
    together = pd.Series(levels[0], part.table.index) if levels else None
    for setting, table in part.table.groupby(names, sort=True):
        groups = None if together is None else together.loc[table.index].to_numpy()
        values = table[response].to_numpy(dtype=np.float64)
        count, readings = len(values), float(table["readings"].sum())
        spread = float(values.std(ddof=1)) if count > 1 else math.nan
        between = math.sqrt(float((table["reading_sd"] ** 2).mean())) if readings > count else math.nan
        single = single_u.get((response, part.region), math.nan)
        alone = between / math.sqrt(readings) if math.isfinite(between) else single
        rows.append(
            {
                "setting": "; ".join(
                    f"{name} = {value:g}" if isinstance(value, float) else f"{name} = {value}"
                    for name, value in zip(names, setting, strict=True)
                ),
                "mean": float(values.mean()),
                "spread": spread,
                "n": float(count),
                "reading_sd": between,
                "u_mean": error_of_mean(values, groups) if count > 1 else alone,
                "rows": readings,
            }
        )
    return rows
