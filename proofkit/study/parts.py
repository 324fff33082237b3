"""Which rows of a study are fitted together, what one row of them is, and what was set up together."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from proofkit.study.experiment import BATCH, Experiment

ALL = "all"
"""Stands in the region column where regions are fitted together."""

ORDER = "order"
"""Column of the observations that tells the order of the work."""


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """Rows that are fitted together."""

    region: str
    table: pd.DataFrame
    """One row per unit (or per unit and region), means of all its readings; `readings` counts them, `reading_sd` is the
    standard deviation between them."""
    levels: tuple[tuple[str, ...], ...]
    """What was set up together: columns whose like rows share a luck of their own, for each level."""
    is_blocked: bool
    """Rows are of several regions, and settings do not go with them."""


def parts_of(observations: pd.DataFrame, experiment: Experiment, response: str, bath: str = "") -> list[Part]:
    """Return the rows to be fitted together, by what the settings were made for.

    Settings that go with pulls are asked region by region, one row a pull. Settings that go with places on the plate
    are asked over all of them, one row a place, the mean of its pulls: more pulls of one strip are no more strips.
    Settings that go with both are asked over all rows, with the pull's own luck. What lay in one bath (column `bath`)
    was bitten together, unless plates or batches tell it apart.
    """
    known = observations[observations[response].notna()]
    if known.empty:
        return []
    names = [factor.name for factor in experiment.factors]
    has = {key: key in experiment.keys for key in ("plate", "pull", "region")}
    plates = ("plate",) if "plate" in known.columns and len(set(known["plate"])) > 1 else ()
    batches = ((BATCH,),) if BATCH in known.columns else ((bath,),) if bath and not plates else ()
    if not experiment.keys:
        return [Part(ALL, known.assign(readings=1.0, reading_sd=np.nan), batches, is_blocked=False)]
    of_plates = (*batches, *((plates,) if plates else ()))
    unit = [key for key in ("plate", "pull", "region") if has[key]]
    together = [*unit, *(BATCH for _ in (0,) if BATCH in known.columns)]
    if has["region"]:
        table = _means(known, together, names, response)
        goes_with_region = not has["pull"] or _is_settled(table, ["region"], names)
        pulls = (tuple(key for key in ("plate", "pull") if has[key]),) if has["pull"] else ()
        return [Part(ALL, table, (*of_plates, *pulls), is_blocked=not goes_with_region)]
    levels = of_plates if has["pull"] else batches
    if "region" not in known.columns:
        return [Part(ALL, _means(known, together, names, response), levels, is_blocked=False)]
    return [
        Part(str(region), _means(rows, together, names, response), levels, is_blocked=False)
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
