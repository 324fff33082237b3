"""A card for each flagged sheet: the reason, the place beside the standard, the numbers."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from proofkit.arrays import Picture
from proofkit.edition import MeasuredEdition, PlatePictures
from proofkit.errors import ProofkitError
from proofkit.figures.words import SHEET, bare_number, measure_word, number, unit_of
from proofkit.judgement.types import Judged
from proofkit.report.pictures import data_uri, shrunk
from proofkit.report.places import Place, worst_place
from proofkit.report.sentences import place_sentence
from proofkit.units import px_per_mm

SHEET_PX = 460
"""Longest side of the picture of a whole sheet. [px]"""

FINEST_PX_PER_MM = 40.0
"""No picture is sampled finer: 12 mm then fill 480 px, as many as are shown. [px/mm]"""

NUMBERS_FIRST = 8
"""Findings shown at once; the others are folded away."""


@dataclass(frozen=True, slots=True)
class NumberRow:
    """A finding as people read it."""

    measure: str
    region: str
    value: str
    standard: str
    spread: str
    deviation: str
    word: str


@dataclass(frozen=True, slots=True)
class Views:
    """Pictures of a place, all with true plate millimetres."""

    place: Place
    sentence: str
    here: str
    """Data address of the square on this sheet."""
    standard: str
    """The same square on the standard."""
    sheet: str
    """The whole sheet."""


@dataclass(frozen=True, slots=True)
class Card:
    """All that is shown of one sheet."""

    pull: str
    designation: str
    verdict: str
    causes: tuple[str, ...]
    regions: tuple[str, ...]
    reason: str
    numbers: tuple[NumberRow, ...]
    views: Views | None
    no_views: str
    """Why there are no pictures; empty when there are."""


def cards(
    measured: MeasuredEdition, judged: Judged, pictures: PlatePictures, pulls: Sequence[str]
) -> tuple[Card, ...]:
    """Return the cards of `pulls`.

    Pictures are asked for pull by pull, the standard's first, so that a source that keeps the last scan in memory
    reads each scan once.
    """
    said = {str(row["pull"]): row for row in judged.judgement.to_dict("records")}
    regions = {pull: _split(str(said[pull]["regions"])) for pull in pulls}
    places = {pull: _place(measured, pull, regions[pull]) for pull in pulls}
    crops = _Crops(measured, pictures)
    standards = {pull: crops.take(measured.standard, place) for pull, place in places.items()}
    result = []
    for pull in pulls:
        views, problem = _views(measured, pull, places[pull], standards[pull], crops.take(pull, places[pull]))
        result.append(
            Card(
                pull=pull,
                designation=designation(measured, pull),
                verdict=str(said[pull]["verdict"]),
                causes=_split(str(said[pull]["causes"])),
                regions=regions[pull],
                reason=str(said[pull]["reason"]),
                numbers=number_rows(measured, judged.findings.loc[judged.findings["pull"] == pull]),
                views=views,
                no_views=problem,
            )
        )
    return tuple(result)


def designation(measured: MeasuredEdition, pull: str) -> str:
    """Return what is pencilled on a pull, empty when pulls.csv does not say."""
    notes = next((row.notes for row in measured.edition.pulls if row.pull == pull), {})
    return notes.get("designation", "")


def sheet_picture(measured: MeasuredEdition, pull: str, longest_px: int) -> str:
    """Return the whole sheet in the plate frame as a data address, empty when it was not measured."""
    tone = measured.tone_pictures.get(pull)
    return "" if tone is None else data_uri(shrunk(tone, longest_px))


def number_rows(measured: MeasuredEdition, findings: pd.DataFrame) -> tuple[NumberRow, ...]:
    """Return findings of one pull, the farthest first."""
    order = findings["deviation"].abs().sort_values(ascending=False).index
    rows = []
    for record in findings.loc[order].to_dict("records"):
        measure, region = str(record["measure"]), str(record["region"])
        rows.append(
            NumberRow(
                measure=measure_word(measure),
                region="whole sheet" if region == SHEET else region,
                value=_with_uncertainty(measured, record, measure, region),
                standard=number(measure, float(record["standard_value"])),
                spread=number(measure, float(record["spread"])),
                deviation=f"{float(record['deviation']):+.1f}".replace("-", "−"),
                word=str(record["direction"]),
            )
        )
    return tuple(rows)


def _with_uncertainty(
    measured: MeasuredEdition, record: dict[object, object], measure: str, region: str
) -> str:
    value = float(str(record["value"]))
    table, column = measured.measurements, f"u_{measure}"
    if column not in table.columns:
        return number(measure, value)
    u = table.loc[(table["pull"] == record["pull"]) & (table["region"] == region), column].dropna()
    if u.empty:
        return number(measure, value)
    return f"{bare_number(measure, value)} ± {bare_number(measure, float(u.iloc[0]))} {unit_of(measure)}".rstrip()


def _split(text: str) -> tuple[str, ...]:
    return tuple(part for part in (part.strip() for part in text.split(";")) if part)


def _place(measured: MeasuredEdition, pull: str, regions: Sequence[str]) -> Place | None:
    standard, tone = (measured.tone_pictures.get(name) for name in (measured.standard, pull))
    if standard is None or tone is None:
        return None
    concerned = [region for region in measured.regions if region.name in regions]
    return worst_place(standard, tone, concerned)


class _Crops:
    """Takes squares of scans and keeps the line that says why one could not be had."""

    def __init__(self, measured: MeasuredEdition, pictures: PlatePictures) -> None:
        sharpest = measured.sheets.groupby("pull")["ppi_x"].min()
        self._px_per_mm = {str(pull): px_per_mm(float(ppi)) for pull, ppi in sharpest.items()}
        self._pictures = pictures

    def take(self, pull: str, place: Place | None) -> Picture | str:
        """Return the square, or one line that says why there is none."""
        if place is None:
            return "There is no tone picture of this sheet to choose a place from."
        scale = min(self._px_per_mm.get(pull, FINEST_PX_PER_MM), FINEST_PX_PER_MM)
        try:
            return self._pictures(pull, place.box_mm, scale)
        except ProofkitError as error:
            return str(error)


def _views(
    measured: MeasuredEdition, pull: str, place: Place | None, standard: Picture | str, here: Picture | str
) -> tuple[Views | None, str]:
    for picture in (standard, here):
        if isinstance(picture, str):
            return None, picture
        if not np.isfinite(picture).any():
            return None, "The place lies outside the scan."
    if place is None or isinstance(standard, str) or isinstance(here, str):
        return None, ""
    return (
        Views(
            place=place,
            sentence=place_sentence(place),
            here=data_uri(here),
            standard=data_uri(standard),
            sheet=sheet_picture(measured, pull, SHEET_PX),
        ),
        "",
    )
