"""From the tables of a measured edition to arrays: one row per pull, one column per region."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from proofkit.arrays import Floats, Mask
from proofkit.edition import MeasuredEdition
from proofkit.judgement.plate_figures import PlateFigures
from proofkit.judgement.scales import (
    PLATE_MEASURES,
    REGION_MEASURES,
    SHEET_MEASURES,
    Judged,
    from_scale,
    steepness,
    to_scale,
)
from proofkit.quality import Quality, from_words

SHEET = "sheet"
"""Stands in the region column for what concerns the whole sheet."""

_LINE_DOUBT = Quality.MISFIT | Quality.PITCH_DOUBT | Quality.NO_LINES
_LINE_MEASURES = frozenset(
    judged.measure
    for judged in REGION_MEASURES
    if judged.measure.startswith(("line_", "fine_", "broad_", "edge_"))
) | {"hollow_index", "hatch_open_fraction", "halo_density", "ground_between_lines_density"}


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """One judged measure of the edition, on its scale."""

    judged: Judged
    regions: tuple[str, ...]
    """Names of the n regions; `sheet` alone for what is measured once a sheet."""
    scaled: Floats
    """(pulls, regions) values on the judged scale; NaN = not measured."""
    uncertainties: Floats
    """(pulls, regions) standard uncertainty on the scale; 0 where none is stated."""
    on_standard: Floats
    """(regions,) what the standard itself reads, in the unit of the measure; NaN = not measured."""

    def natural(self, scaled: Floats) -> Floats:
        """Return values on the scale in the unit of the measure."""
        return from_scale(self.judged.scale, scaled)


@dataclass(frozen=True, slots=True, eq=False)
class Values:
    """All judged measures of the pulls that can be compared."""

    pulls: tuple[str, ...]
    """In order of pulling."""
    regions: tuple[str, ...]
    columns: dict[str, Column]
    """By measure; measures that no pull has are left out."""
    relay: dict[str, float]
    """Measure -> scatter between scans of the same pull, on the scale, where pulls were scanned twice."""


def _cell(table: pd.DataFrame, measure: str, prefix: str = "") -> "pd.Series[float]":
    name = prefix + measure
    if name in table.columns:
        return pd.to_numeric(table[name], errors="coerce").astype("float64")
    return pd.Series(np.nan, index=table.index, dtype="float64")


def _doubtful_lines(table: pd.DataFrame) -> Mask:
    return np.array(
        [bool(from_words(str(text)) & _LINE_DOUBT) for text in table["quality"].fillna("")], dtype=bool
    )


def relay_scatter(pulls: "pd.Series[str]", regions: "pd.Series[str]", scaled: Floats) -> float:
    """Return the pooled standard deviation between scans of the same pull and region, NaN if none was repeated.

    Parameters
    ----------
    pulls, regions : pandas.Series
        (n,) keys of the rows.
    scaled : Floats
        (n,) values on the judged scale.

    Returns
    -------
    float
        Root of the pooled variance within (pull, region), weighted by degrees of freedom (JCGM 100, H.3.6).

    Examples
    --------
    >>> relay_scatter(pd.Series(["1", "1"]), pd.Series(["a", "a"]), np.array([1.0, 3.0])).__round__(6)
    1.414214
    """
    groups = (
        pd.DataFrame({"pull": pulls, "region": regions, "value": scaled}).dropna().groupby(["pull", "region"])
    )
    counts = groups["value"].count() - 1
    freedom = int(counts.sum())
    if freedom < 1:
        return float("nan")
    return float(np.sqrt(np.nansum(groups["value"].var(ddof=1) * counts) / freedom))


def _grid(table: pd.DataFrame, values: Floats, pulls: tuple[str, ...], regions: tuple[str, ...]) -> Floats:
    """Return (pulls, regions) means over the scans of each pull."""
    keyed = pd.DataFrame(
        {"pull": table["pull"].to_numpy(), "region": table["region"].to_numpy(), "value": values}
    )
    wide = keyed.pivot_table(values="value", index="pull", columns="region", aggfunc="mean")
    return np.asarray(wide.reindex(index=list(pulls), columns=list(regions)), dtype=np.float64)


def _column(
    judged: Judged, table: pd.DataFrame, pulls: tuple[str, ...], regions: tuple[str, ...], standard: str
) -> tuple[Column, float] | None:
    natural = np.array(_cell(table, judged.measure), dtype=np.float64)
    doubts = np.array(_cell(table, judged.measure, "u_"), dtype=np.float64)
    on_standard = _grid(table, natural, (standard,), regions)[0]
    if judged.against_standard:
        natural[(table["pull"] == standard).to_numpy(dtype=bool)] = np.nan
    if judged.measure in _LINE_MEASURES:
        natural[_doubtful_lines(table)] = np.nan
    if "work" in table.columns:
        natural[~table["work"].isin(judged.works).to_numpy(dtype=bool)] = np.nan
    if not np.isfinite(natural).any():
        return None
    scaled = to_scale(judged.scale, natural)
    doubts = np.asarray(np.nan_to_num(doubts * steepness(judged.scale, natural)))
    grid = _grid(table, scaled, pulls, regions)
    kept = np.asarray(np.isfinite(grid).any(axis=0))
    column = Column(
        judged,
        tuple(regions[index] for index in np.flatnonzero(kept)),
        grid[:, kept],
        np.nan_to_num(_grid(table, doubts, pulls, regions))[:, kept],
        on_standard[kept],
    )
    return column, relay_scatter(table["pull"], table["region"], scaled)


def gather(measured: MeasuredEdition, pulls: tuple[str, ...], figures: PlateFigures) -> Values:
    """Return the judged measures of `pulls` as arrays.

    Parameters
    ----------
    measured : MeasuredEdition
    pulls : tuple of str
        The pulls that can be compared, in order of pulling.
    figures : PlateFigures
        Of the same pulls, from the coarse tone pictures.

    Returns
    -------
    Values
        Several scans of one pull enter as their mean.
    """
    regions = tuple(region.name for region in measured.regions)
    by_region = measured.measurements[measured.measurements["pull"].isin(pulls)]
    by_sheet = measured.sheets[measured.sheets["pull"].isin(pulls)].assign(region=SHEET)
    by_plate = pd.DataFrame({"pull": list(pulls), "region": SHEET, **figures.by_name})
    columns: dict[str, Column] = {}
    relay: dict[str, float] = {}
    for measures, table, names in (
        (REGION_MEASURES, by_region, regions),
        (SHEET_MEASURES, by_sheet, (SHEET,)),
        (PLATE_MEASURES, by_plate, (SHEET,)),
    ):
        for judged in measures:
            found = _column(judged, table, pulls, names, measured.standard) if len(table) else None
            if found is not None:
                columns[judged.measure], relay[judged.measure] = found
    return Values(
        pulls, regions, columns, {name: value for name, value in relay.items() if np.isfinite(value)}
    )
