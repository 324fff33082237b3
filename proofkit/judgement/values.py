"""From the tables of a measured edition to arrays: one row per pull, one column per region."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from proofkit.arrays import Floats, Mask
from proofkit.edition import MeasuredEdition
from proofkit.judgement.plate_figures import PlateFigures
from proofkit.judgement.relay import relay_floor
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

_FILM_MEASURES = frozenset(
    {
        "plate_tone_density",
        "plate_tone_unevenness_density",
        "plate_tone_slope_density_per_100mm",
        "streak_density",
    }
)

PAPER_DOUBT_DENSITY = 0.02
"""Uncertainty of every density above bare paper when the scan shows little bare paper: paper of one sheet varies by
that much from place to place and sheets of one make by as much among themselves. [D] Common practice, 2 L*."""

_ABOVE_PAPER = frozenset(
    {
        "plate_tone_density",
        "ground_between_lines_density",
        "line_core_density",
        "tone_distance_density",
        "tone_fraction",
        "paper_density",
        "bevel_density",
    }
)
"""Measures that stand on the level of bare paper; a light tone fraction moves by up to 2.3 times the density."""

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
    shared: Floats
    """(pulls,) further uncertainty that all regions of a sheet have in common, on the scale."""
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
    paper_doubt: Floats
    """(pulls,) uncertainty of the level of bare paper beyond the ordinary. [D]"""
    relay: dict[str, float]
    """Measure -> scatter between scans of the same pull, on the scale, where pulls were scanned twice or a re-lay
    study was made."""


def _cell(table: pd.DataFrame, measure: str, prefix: str = "") -> "pd.Series[float]":
    name = prefix + measure
    if name in table.columns:
        return pd.to_numeric(table[name], errors="coerce").astype("float64")
    return pd.Series(np.nan, index=table.index, dtype="float64")


def _flagged(table: pd.DataFrame, flags: Quality) -> Mask:
    """Return the rows that carry any of the flags."""
    return np.array([bool(from_words(str(text)) & flags) for text in table["quality"].fillna("")], dtype=bool)


def _out_of_place(judged: Judged, table: pd.DataFrame, natural: Floats) -> Mask:
    """Return the rows that say nothing of this measure: other work, doubtful lines, film read where it is not film.

    Between the lines of hatching a skirt or clogged ink looks like film. So where any ground lies open on the plate,
    the film is read there alone; the gaps have their own measure.
    """
    out = np.zeros(len(table), dtype=bool)
    if judged.measure in _LINE_MEASURES:
        out |= _flagged(table, _LINE_DOUBT)
    if "work" in table.columns:
        out |= ~table["work"].isin(judged.works).to_numpy(dtype=bool)
    if judged.measure in _FILM_MEASURES:
        in_gaps = _flagged(table, Quality.GROUND_FROM_GAPS)
        if np.isfinite(natural[~in_gaps & ~out]).any():
            out |= in_gaps
    return out


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """Rows of a table with the place of each in the grid of pulls and regions."""

    table: pd.DataFrame
    pull: npt.NDArray[np.intp]
    """(n,) index of the pull."""
    region: npt.NDArray[np.intp]
    """(n,) index of the region."""
    standard: int
    """Index of the standard among the pulls."""
    shape: tuple[int, int]


def _rows(table: pd.DataFrame, pulls: tuple[str, ...], regions: tuple[str, ...], standard: str) -> _Rows:
    kept = table[table["pull"].isin(pulls) & table["region"].isin(regions)]
    return _Rows(
        kept,
        np.asarray(pd.Index(pulls).get_indexer(pd.Index(kept["pull"])), dtype=np.intp),
        np.asarray(pd.Index(regions).get_indexer(pd.Index(kept["region"])), dtype=np.intp),
        pulls.index(standard),
        (len(pulls), len(regions)),
    )


def _grid(rows: _Rows, values: Floats) -> tuple[Floats, Floats]:
    """Return (pulls, regions) means over the scans of each pull, and their counts."""
    known = np.isfinite(values)
    at = (rows.pull[known], rows.region[known])
    total, count = np.zeros(rows.shape), np.zeros(rows.shape)
    np.add.at(total, at, values[known])
    np.add.at(count, at, 1.0)
    return np.where(count > 0, total / np.maximum(count, 1.0), np.nan), count


def relay_scatter(scaled: Floats, mean: Floats, count: Floats) -> float:
    """Return the pooled standard deviation between scans of the same pull and region, NaN if none was repeated.

    Parameters
    ----------
    scaled : Floats
        (n,) values on the judged scale.
    mean, count : Floats
        (n,) mean and number of the values of the same pull and region.

    Returns
    -------
    float
        Root of the variance within, pooled over degrees of freedom (JCGM 100, 4.2.4).

    Examples
    --------
    >>> round(relay_scatter(np.array([1.0, 3.0]), np.array([2.0, 2.0]), np.array([2.0, 2.0])), 6)
    1.414214
    """
    known = np.isfinite(scaled) & (count > 1)
    if not known.any():
        return float("nan")
    freedom = float((1.0 - 1.0 / count[known]).sum())
    return float(np.sqrt(((scaled[known] - mean[known]) ** 2).sum() / freedom))


def _paper_doubt(sheets: pd.DataFrame, pulls: tuple[str, ...]) -> Floats:
    """Return (pulls,) the uncertainty of the paper level beyond the ordinary. [D]"""
    little = {
        pull
        for pull, quality in zip(sheets["pull"], sheets["quality"].fillna(""), strict=True)
        if Quality.LITTLE_MARGIN in from_words(str(quality))
    }
    return np.array([PAPER_DOUBT_DENSITY if pull in little else 0.0 for pull in pulls])


def _column(
    judged: Judged, rows: _Rows, regions: tuple[str, ...], paper_doubt: Floats
) -> tuple[Column, float] | None:
    natural = np.array(_cell(rows.table, judged.measure), dtype=np.float64)
    doubts = np.array(_cell(rows.table, judged.measure, "u_"), dtype=np.float64)
    natural[_out_of_place(judged, rows.table, natural)] = np.nan
    on_standard = _grid(rows, natural)[0][rows.standard]
    if judged.against_standard:
        natural[rows.pull == rows.standard] = np.nan
    if not np.isfinite(natural).any():
        return None
    scaled = to_scale(judged.scale, natural)
    grid, count = _grid(rows, scaled)
    uncertain, _ = _grid(rows, np.asarray(doubts * steepness(judged.scale, natural)))
    kept = np.asarray(np.isfinite(grid).any(axis=0))
    column = Column(
        judged,
        tuple(regions[index] for index in np.flatnonzero(kept)),
        grid[:, kept],
        np.nan_to_num(uncertain)[:, kept],
        paper_doubt if judged.measure in _ABOVE_PAPER else np.zeros(len(paper_doubt)),
        on_standard[kept],
    )
    return column, relay_scatter(scaled, grid[rows.pull, rows.region], count[rows.pull, rows.region])


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
    by_plate = pd.DataFrame({"pull": list(pulls), "region": SHEET, **figures.by_name})
    paper_doubt = _paper_doubt(measured.sheets, pulls)
    columns: dict[str, Column] = {}
    relay: dict[str, float] = {}
    for measures, table, names in (
        (REGION_MEASURES, measured.measurements, regions),
        (SHEET_MEASURES, measured.sheets.assign(region=SHEET), (SHEET,)),
        (PLATE_MEASURES, by_plate, (SHEET,)),
    ):
        rows = _rows(table, pulls, names, measured.standard)
        for judged in measures:
            found = _column(judged, rows, names, paper_doubt) if len(rows.table) else None
            if found is not None:
                columns[judged.measure], relay[judged.measure] = found
    repeated = {name: value for name, value in relay.items() if np.isfinite(value)}
    for name, scatter in relay_floor(measured.repeatability).items():
        repeated[name] = max(scatter, repeated.get(name, 0.0))
    return Values(pulls, regions, columns, paper_doubt, repeated)
