"""A card for each flagged sheet: the reason, the place beside the standard, the numbers."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from proofkit.arrays import Picture
from proofkit.edition import MeasuredEdition, PlatePictures
from proofkit.errors import ProofkitError
from proofkit.figures.words import SHEET, measure_word, number, with_uncertainty
from proofkit.judgement.types import Judged
from proofkit.report.pictures import data_uri, shrunk
from proofkit.report.places import Place, worst_place
from proofkit.report.sentences import paragraphs, place_sentence, regions_in_short, telling_order
from proofkit.units import px_per_mm

SHEET_PX = 460
"""Longest side of the picture of a whole sheet. [px]"""

FINEST_PX_PER_MM = 40.0
"""No picture is sampled finer: 12 mm then fill 480 px, as many as are shown. [px/mm]"""

SHARP_ENOUGH = 0.7
"""Share of `SHEET_PX` from which the coarse tone picture is shown for the whole sheet. [-]"""


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
    also: str
    """Other regions in which the same measure leaves the standard."""


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
    reason: tuple[tuple[str, str], ...]
    """(cause as asked, what is said of it); the first has no cause."""
    numbers: tuple[NumberRow, ...]
    """One row per measure, in the region where it is farthest out; the most telling first."""
    all_numbers: tuple[NumberRow, ...]
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
    causes = {pull: _split(str(said[pull]["causes"])) for pull in pulls}
    places = {pull: _place(measured, pull, regions[pull]) for pull in pulls}
    found = {
        pull: telling_order(judged.findings.loc[judged.findings["pull"] == pull], causes[pull])
        for pull in pulls
    }
    crops = _Crops(measured, pictures)
    standards = {pull: crops.take(measured.standard, place) for pull, place in places.items()}
    result = []
    for pull in pulls:
        views, problem = _views(crops, pull, places[pull], standards[pull])
        result.append(
            Card(
                pull=pull,
                designation=designation(measured, pull),
                verdict=str(said[pull]["verdict"]),
                causes=causes[pull],
                regions=regions[pull],
                reason=tuple(paragraphs(str(said[pull]["reason"]))),
                numbers=number_rows(measured, worst_of_each(found[pull], causes[pull])),
                all_numbers=number_rows(measured, found[pull]),
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


def worst_of_each(findings: pd.DataFrame, causes: Sequence[str] = ()) -> pd.DataFrame:
    """Return one finding per measure, where it is farthest out, with the other regions in a column `also`.

    The whole sheet stands for itself only when no region does: a place to look at says more.
    """
    rows = []
    for measure in dict.fromkeys(findings["measure"]):
        same = findings.loc[findings["measure"] == measure]
        regions = same.loc[same["region"] != SHEET]
        shown = same if regions.empty else regions
        others = [str(region) for region in shown["region"].iloc[1:]]
        rows.append(shown.iloc[:1].assign(also=regions_in_short(others)))
    return telling_order(pd.concat(rows), causes) if rows else findings


def number_rows(measured: MeasuredEdition, findings: pd.DataFrame) -> tuple[NumberRow, ...]:
    """Return findings of one pull as people read them, in their order."""
    rows = []
    for record in findings.to_dict("records"):
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
                also=str(record.get("also", "")),
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
    return with_uncertainty(measure, value, float("nan") if u.empty else float(u.iloc[0]))


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
        self._measured = measured

    def take(self, pull: str, place: Place | None) -> Picture | str:
        """Return the square, or one line that says why there is none."""
        if place is None:
            return "There is no tone picture of this sheet to choose a place from."
        scale = min(self._px_per_mm.get(pull, FINEST_PX_PER_MM), FINEST_PX_PER_MM)
        try:
            return self._pictures(pull, place.box_mm, scale)
        except ProofkitError as error:
            return str(error)

    def sheet(self, pull: str) -> Picture:
        """Return the whole sheet: the coarse tone picture, or on small plates a finer one from the scan."""
        tone = self._measured.tone_pictures[pull]
        if max(tone.shape) >= SHARP_ENOUGH * SHEET_PX:
            return shrunk(tone, SHEET_PX)
        size_mm = (self._measured.plate_width_mm, self._measured.plate_height_mm)
        return self._pictures(pull, (0.0, 0.0, *size_mm), SHEET_PX / max(size_mm))


def _views(
    crops: _Crops, pull: str, place: Place | None, standard: Picture | str
) -> tuple[Views | None, str]:
    here = crops.take(pull, place)
    for picture in (standard, here):
        if isinstance(picture, str):
            return None, picture
        if not np.isfinite(picture).any():
            return None, "The place lies outside the scan."
    if place is None or isinstance(standard, str) or isinstance(here, str):
        return None, ""
    views = Views(
        place=place,
        sentence=place_sentence(place),
        here=data_uri(here),
        standard=data_uri(standard),
        sheet=data_uri(crops.sheet(pull)),
    )
    return views, ""
