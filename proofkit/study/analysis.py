"""Effects, summaries and checks of a whole study from its table of observations."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy import stats

from proofkit.columns import EFFECTS, RESIDUALS, SUMMARY, make_table
from proofkit.study.design import Design, Term, build_design, groups_of
from proofkit.study.experiment import Experiment, Factor
from proofkit.study.models import Effect, Fitted, TooLittleError, fit, joint_test
from proofkit.study.residuals import residual_checks
from proofkit.study.settings import StudySettings

ALL = "all"
"""Stands in the region column where regions are fitted together."""

ORDER = "order"
"""Column of the observations that tells the order of the work."""

FEWEST_LEVELS_JOINT = 3


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


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """Rows that are fitted together."""

    region: str
    table: pd.DataFrame
    """One row per unit (or per unit and region), means of all its readings; `readings` counts them, `reading_sd` is the
    standard deviation between them."""
    groups: tuple[str, ...]
    """Columns whose rows share a luck of their own; empty for none."""
    is_blocked: bool
    """Rows are of several regions, and settings do not go with them."""


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
        for part in parts_of(observations, experiment, response):
            where = {"response": response, "region": part.region}
            summary += [{**where, **row} for row in _summary(part, experiment.factors, response, single_u)]
            try:
                rows, fitted, found = _fit_part(part, experiment, settings, response)
            except TooLittleError as error:
                place = "" if part.region == ALL else f" in {part.region}"
                remarks.append(f"{response}{place}: {error}.")
                continue
            fits[response, part.region] = (part.table, fitted)
            effects += [{**where, **row} for row in rows]
            remarks += [f"{response}: {remark}" for remark in found]
            order = part.table[ORDER].to_numpy(dtype=np.float64)
            checks += [{**where, **row} for row in residual_checks(fitted, order)]
    table = _with_q(make_table(effects, EFFECTS))
    return Analysis(
        table,
        make_table(summary, SUMMARY),
        make_table(checks, RESIDUALS),
        fits,
        tuple(dict.fromkeys(remarks)),
    )


def _with_q(table: pd.DataFrame) -> pd.DataFrame:
    """Fill in false discovery rates over all effects of the study (Benjamini and Hochberg 1995)."""
    known = table["p_value"].notna().to_numpy()
    if known.any():
        table.loc[known, "q_value"] = stats.false_discovery_control(table.loc[known, "p_value"].to_numpy())
    return table


def parts_of(observations: pd.DataFrame, experiment: Experiment, response: str) -> list[Part]:
    """Return the rows to be fitted together, by what the settings were made for.

    Settings that go with pulls are asked region by region, one row a pull. Settings that go with places on the plate
    are asked over all of them, one row a place, the mean of its pulls: more pulls of one strip are no more strips.
    Settings that go with both are asked over all rows, with the pull's own luck.
    """
    known = observations[observations[response].notna()]
    if known.empty:
        return []
    names = [factor.name for factor in experiment.factors]
    has = {key: key in experiment.keys for key in ("plate", "pull", "region")}
    plates = ("plate",) if "plate" in known.columns and len(set(known["plate"])) > 1 else ()
    if not experiment.keys:
        return [Part(ALL, known.assign(readings=1.0, reading_sd=np.nan), (), is_blocked=False)]
    if has["region"]:
        unit = [key for key in ("plate", "pull", "region") if has[key]]
        table = _means(known, unit, names, response)
        goes_with_region = not has["pull"] or _is_settled(table, ["region"], names)
        groups = tuple(key for key in ("plate", "pull") if has[key]) if has["pull"] else plates
        return [Part(ALL, table, groups, is_blocked=not goes_with_region)]
    unit = [key for key in ("plate", "pull") if has[key]]
    groups = plates if has["pull"] else ()
    if "region" not in known.columns:
        return [Part(ALL, _means(known, unit, names, response), groups, is_blocked=False)]
    return [
        Part(str(region), _means(rows, unit, names, response), groups, is_blocked=False)
        for region, rows in known.groupby("region", sort=False)
    ]


def _means(rows: pd.DataFrame, unit: list[str], factors: list[str], response: str) -> pd.DataFrame:
    grouped = rows.groupby([*unit, *factors], sort=False, dropna=False)
    columns = {response: "mean", ORDER: "mean", "readings": "size", "reading_sd": "std"}
    sources = {response: response, ORDER: ORDER, "readings": response, "reading_sd": response}
    table = grouped.agg(**{name: (sources[name], how) for name, how in columns.items()})
    return table.reset_index()


def _is_settled(table: pd.DataFrame, keys: list[str], factors: list[str]) -> bool:
    """Tell whether the settings follow from `keys` alone."""
    return not table[[*keys, *factors]].drop_duplicates().duplicated(keys).any()


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
    groups = groups_of(part.table, part.groups) if part.groups else None
    fitted = fit(np.log(values) if is_relative else values, design.columns, groups)
    units = float(len(part.table) if groups is None else groups.max() + 1)
    rows = _effect_rows(design, fitted, is_relative=is_relative)
    rows += [
        row for factor in factors if (row := _joint_row(design, fitted, factor, is_relative=is_relative))
    ]
    common = {"rows": float(len(values)), "units": units, "model": fitted.model}
    return [{**row, **common} for row in rows], fitted, remarks


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


def _effect_rows(design: Design, fitted: Fitted, *, is_relative: bool) -> list[dict[str, object]]:
    rows = []
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
                "remark": _remark(one, term),
            }
        )
    return rows


def _as_share(one: Effect) -> Effect:
    factor = math.exp(one.estimate)
    return replace(
        one,
        estimate=factor - 1,
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
    for setting, table in part.table.groupby(names, sort=True):
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
                "u_mean": spread / math.sqrt(count) if count > 1 else alone,
                "rows": readings,
            }
        )
    return rows
