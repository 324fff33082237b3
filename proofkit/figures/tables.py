"""The edition as a table to look through: a row per pull, a column per region, one measure."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from proofkit.edition import MeasuredEdition
from proofkit.figures.series import pull_order, regions_with, series_of
from proofkit.figures.words import SHEET
from proofkit.judgement.types import Judged


@dataclass(frozen=True, slots=True, eq=False)
class EditionTable:
    """One measure of an edition."""

    readings: pd.DataFrame
    """Index pull in order of printing, a column per region; NaN = not measurable. [as the measure]"""
    findings: dict[tuple[str, str], str]
    """(pull, region) -> direction in the words of the trade, where it leaves the standard."""


def edition_table(measured: MeasuredEdition, judged: Judged, measure: str) -> EditionTable:
    """Return a measure as a table of pulls against regions.

    Parameters
    ----------
    measured : MeasuredEdition
    judged : Judged
    measure : str
        Column of `measurements`, or a number of `sheets`, whose only region is `sheet`.

    Returns
    -------
    EditionTable

    Raises
    ------
    KeyError
        If `measure` is no column of the tables.
    """
    order = pull_order(measured)
    columns: dict[str, list[float]] = {}
    for region in regions_with(measured, measure) or (SHEET,):
        if region == SHEET and measure not in measured.sheets.columns:
            continue
        series = series_of(measured, measure, region)
        first = dict(zip(series.pulls[::-1], series.readings[::-1], strict=True))
        columns[region] = [float(first.get(pull, np.nan)) for pull in order]
    found = judged.findings.loc[judged.findings["measure"] == measure]
    words = zip(found["pull"].astype(str), found["region"].astype(str), found["direction"], strict=True)
    return EditionTable(
        readings=pd.DataFrame(columns, index=pd.Index(order, name="pull"), dtype=np.float64),
        findings={(pull, region): str(word) for pull, region, word in words},
    )
