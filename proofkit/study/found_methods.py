"""What the records of a folder tell for the methods paragraph, without anybody writing it again."""

from collections.abc import Mapping

import numpy as np
import pandas as pd

from proofkit.columns import MEASURES
from proofkit.edition import MeasuredEdition
from proofkit.folder.edition import Edition
from proofkit.judgement.relay import relay_floor
from proofkit.study.analysis import Analysis
from proofkit.study.observing import Observed
from proofkit.wording import percent

MOST_NAMED = 6
"""Different notes that are named; beyond it their number is told. [-]"""

_NOTED = {"paper": "paper", "ink": "ink", "wiping": "wiping", "pressure": "press"}
"""Column of pulls.csv -> point of the methods."""


def found_methods(observed: Observed, analysis: Analysis, by_hand: tuple[str, ...]) -> dict[str, str]:
    """Return point of the methods -> what the records tell.

    Parameters
    ----------
    observed : Observed
    analysis : Analysis
    by_hand : tuple of str
        Responses that were measured by hand.
    """
    editions = [measured.edition for measured in observed.measured.values()]
    told = {point: _notes(editions, column) for column, point in _NOTED.items()}
    told["plate"] = _plate(editions)
    told["order"] = _order(editions)
    told["capture"] = _capture(observed.measured)
    told["regions"] = _regions(observed.measured)
    told["measures"] = _measures(observed.responses, by_hand)
    told["counts"] = _counts(observed, analysis)
    told["repeatability"] = _repeatability(observed.measured)
    told["exclusions"] = (
        "; ".join(f"{pull}: {why.rstrip('.')}" for pull, why in observed.left_out.items()) or "nothing"
    )
    told["availability"] = "all tables beside this page, as CSV and Parquet with a data dictionary"
    return {point: text for point, text in told.items() if text}


def _notes(editions: list[Edition], column: str) -> str:
    found = list(
        dict.fromkeys(
            pull.notes[column] for edition in editions for pull in edition.pulls if column in pull.notes
        )
    )
    if len(found) > MOST_NAMED:
        return f"{len(found)} different notes in pulls.csv"
    return "; ".join(found)


def _plate(editions: list[Edition]) -> str:
    sizes = [
        f"{edition.plate_height_mm:g} x {edition.plate_width_mm:g} mm (height x width)"
        for edition in editions
        if edition.plate_height_mm and edition.plate_width_mm
    ]
    return "; ".join(dict.fromkeys(sizes))


def _order(editions: list[Edition]) -> str:
    days = sorted(
        {pull.notes["pulled_on"] for e in editions for pull in e.pulls if "pulled_on" in pull.notes}
    )
    if not editions:
        return ""
    over = (
        f", printed from {days[0]} to {days[-1]}"
        if len(days) > 1
        else f", printed on {days[0]}"
        if days
        else ""
    )
    return f"order of the pulls as numbered{over}; times of day not recorded"


def _capture(measured: Mapping[str, MeasuredEdition]) -> str:
    if not measured:
        return ""
    sheets = pd.concat([one.sheets for one in measured.values()])
    low, high = float(sheets["ppi_x"].min()), float(sheets["ppi_x"].max())
    ppi = f"{low:.0f} px/inch" if high < 1.01 * low else f"{low:.0f} to {high:.0f} px/inch"
    blur = sheets["blur_um"].median()
    parts = [ppi, f"blur of the scans {blur:.0f} µm (standard deviation)"] if np.isfinite(blur) else [ppi]
    captures = [one.edition.capture for one in measured.values()]
    parts += [f"tone curve {name}" for name in dict.fromkeys(c.tone_curve for c in captures) if name]
    parts += [f"backing {name}" for name in dict.fromkeys(c.backing for c in captures) if name]
    return ", ".join(parts)


def _regions(measured: Mapping[str, MeasuredEdition]) -> str:
    parts = []
    for plate, one in measured.items():
        lead = f"{plate}: " if plate else ""
        proposed = sum(region.proposed for region in one.regions)
        how = f", of which {proposed} were proposed from the standard and not redrawn" if proposed else ""
        parts.append(f"{lead}{len(one.regions)} regions in plate mm{how}")
    return "; ".join(parts)


def _measures(responses: tuple[str, ...], by_hand: tuple[str, ...]) -> str:
    known = {column.name: column for column in MEASURES}
    parts = []
    for name in responses:
        if name in known and name not in by_hand:
            parts.append(f"{name} ({known[name].meaning}, {known[name].unit})")
        else:
            parts.append(f"{name} (measured by hand)")
    return "; ".join(parts)


def _counts(observed: Observed, analysis: Analysis) -> str:
    parts = []
    if observed.measured:
        sheets = sum(len(one.sheets) for one in observed.measured.values())
        pulls = sum(len(set(one.sheets["pull"])) for one in observed.measured.values())
        parts.append(f"{pulls} pulls, {sheets} scans")
    parts.append(f"{len(observed.table)} readings in {len(analysis.summary)} settings, regions and responses")
    return ", ".join(parts)


def _repeatability(measured: Mapping[str, MeasuredEdition]) -> str:
    floors = [relay_floor(one.repeatability) for one in measured.values()]
    parts = []
    for name, word, unit in (
        ("plate_tone_density", "plate tone", " D"),
        ("line_load_um", "line load", " of itself"),
    ):
        values = [floor[name] for floor in floors if name in floor]
        if values:
            shown = percent(max(values), 1) if name == "line_load_um" else f"{max(values):.4f}"
            parts.append(f"{word} {shown}{unit}")
    return f"sheets laid down again, standard deviation of one scan: {', '.join(parts)}" if parts else ""
