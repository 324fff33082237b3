"""Rows of the tables in pull order, as every chart and the report read them."""

import html
from dataclasses import dataclass

import numpy as np
import pandas as pd

from proofkit.arrays import Floats
from proofkit.edition import MeasuredEdition
from proofkit.figures.words import SHEET
from proofkit.judgement.types import Judged


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """One measure of one region along the pulls."""

    pulls: tuple[str, ...]
    """Pull of each row."""
    places: Floats
    """(n,) place of each row in the order of pulls, from 0. [-]"""
    readings: Floats
    """(n,) as the measure; NaN = not measurable."""
    uncertainties: Floats
    """(n,) standard uncertainty; NaN = not stated."""
    quality: tuple[str, ...]
    """Quality words of each row."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Row of `Judged.limits` for one region and measure."""

    centre: float
    spread: float
    lower: float
    upper: float
    standard_value: float
    source: str
    is_trial: bool


def safe(text: str) -> str:
    """Return text of a file as charts may show it: their small markup language is switched off.

    >>> safe("sky <b>")
    'sky &lt;b&gt;'
    """
    return html.escape(text, quote=False)


def pull_order(measured: MeasuredEdition) -> tuple[str, ...]:
    """Return the pulls in order of printing, each once."""
    return tuple(dict.fromkeys(pull.pull for pull in measured.edition.pulls))


def series_of(measured: MeasuredEdition, measure: str, region: str) -> Series:
    """Return a measure of a region, or of the sheets themselves for region `sheet`, in pull order.

    Raises
    ------
    KeyError
        If the tables have no such column.
    """
    table = measured.sheets if region == SHEET else measured.measurements
    wanted = np.ones(len(table), dtype=np.bool_) if region == SHEET else np.asarray(table["region"] == region)
    order = {pull: place for place, pull in enumerate(pull_order(measured))}
    pulls = [str(pull) for pull in table["pull"]]
    rows = [row for row in np.flatnonzero(wanted) if pulls[row] in order]
    rows.sort(key=lambda row: order[pulls[row]])
    quality = list(table["quality"])
    return Series(
        pulls=tuple(pulls[row] for row in rows),
        places=np.asarray([order[pulls[row]] for row in rows], dtype=np.float64),
        readings=np.asarray(table[measure], dtype=np.float64)[rows],
        uncertainties=_numbers(table, f"u_{measure}")[rows],
        quality=tuple(str(quality[row]) for row in rows),
    )


def _numbers(table: pd.DataFrame, column: str) -> Floats:
    """Return a column, NaN where the table has none."""
    if column not in table.columns:
        return np.full(len(table), np.nan)
    return np.asarray(table[column], dtype=np.float64)


def regions_with(measured: MeasuredEdition, measure: str) -> tuple[str, ...]:
    """Return the regions in which a measure has any value, in order; `sheet` for sheet measures."""
    if measure not in measured.measurements.columns:
        return (SHEET,) if measure in measured.sheets.columns else ()
    has_value = measured.measurements.loc[measured.measurements[measure].notna(), "region"].unique()
    return tuple(region.name for region in measured.regions if region.name in has_value)


def limits_of(judged: Judged, measure: str, region: str) -> Limits | None:
    """Return the limits of a region and measure, None where judgement set none."""
    table = judged.limits
    rows = table.loc[(table["region"] == region) & (table["measure"] == measure)]
    if rows.empty:
        return None
    row = rows.iloc[0]
    return Limits(
        centre=float(row["centre"]),
        spread=float(row["spread"]),
        lower=float(row["lower"]),
        upper=float(row["upper"]),
        standard_value=float(row["standard_value"]),
        source=str(row["source"]),
        is_trial=bool(row["is_trial"]),
    )


def findings_of(judged: Judged, measure: str, region: str) -> pd.DataFrame:
    """Return the findings of a region and measure."""
    table = judged.findings
    return table.loc[(table["region"] == region) & (table["measure"] == measure)]


def pull_axis(measured: MeasuredEdition) -> dict[str, object]:
    """Return the settings of an x axis along the pulls, with as many labels as fit."""
    order = pull_order(measured)
    step = max(1, -(-len(order) // 20))
    shown = range(0, len(order), step)
    return {
        "range": [-0.7, len(order) - 0.3],
        "tickvals": list(shown),
        "ticktext": [safe(order[place]) for place in shown],
        "tickangle": 0 if max((len(pull) for pull in order), default=0) <= 4 else -60,
    }
