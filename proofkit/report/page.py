"""Write the report: one HTML file that asks nothing of the network and prints."""

import base64
import hashlib
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path

import pandas as pd
from plotly.offline import get_plotlyjs

import proofkit
from proofkit import quality
from proofkit.edition import MeasuredEdition, PlatePictures
from proofkit.folder.writing import write_text
from proofkit.judgement.findings import FOR_ITS_SHEET
from proofkit.judgement.types import Judged
from proofkit.ledger.deciding import standing
from proofkit.measures.advice import advice
from proofkit.report import sentences
from proofkit.report.cards import cards, designation, sheet_picture
from proofkit.report.charts import consistency_charts, map_chart, sheets_chart, tone_charts
from proofkit.report.in_order import course_sentences, power_rows, running_chart
from proofkit.report.spots import spots
from proofkit.report.templates import templates

THUMB_PX = 170
"""Longest side of a sheet in the strip. [px]"""


@dataclass(frozen=True, slots=True)
class PileRow:
    """One sheet in the strip and the table of the pile."""

    pull: str
    designation: str
    verdict: str
    causes: str
    regions: str
    telling: str
    note: str
    picture: str
    decided: str
    """What a person decided, with reason and initials; empty when nobody did."""


def write_report(
    measured: MeasuredEdition,
    judged: Judged,
    pictures: PlatePictures,
    path: Path,
    *,
    decided: pd.DataFrame | None = None,
    places: pd.DataFrame | None = None,
) -> None:
    """Write the report of an edition.

    Parameters
    ----------
    measured : MeasuredEdition
    judged : Judged
    pictures : PlatePictures
        Gives squares of the laid scans, for looking.
    path : Path
        File to write; replaced in one step when it is there already.
    decided : pandas.DataFrame, optional
        Table `decisions`; shown beside the program's view, never mixed with it.
    places : pandas.DataFrame, optional
        Table `places`; each is listed, the most conspicuous with a square of the sheet.

    Notes
    -----
    All text of files is escaped, and the page forbids itself every script but its own two and every address but
    ``data:``. Its size is that of the chart library (about 5 MB) and some tens of kB for each sheet.
    """
    page = render(measured, judged, pictures, decided=decided, places=places)
    path.parent.mkdir(parents=True, exist_ok=True)
    write_text(path, page)


def render(
    measured: MeasuredEdition,
    judged: Judged,
    pictures: PlatePictures,
    *,
    decided: pd.DataFrame | None = None,
    places: pd.DataFrame | None = None,
) -> str:
    """Return the report as text."""
    scripts = [get_plotlyjs(), _own("page.js")]
    flagged = sentences.looks_first(measured, judged)
    return (
        templates()
        .get_template("page.html.j2")
        .render(
            measured=measured,
            judged=judged,
            version=proofkit.__version__,
            made_at=datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC"),
            policy=content_policy(scripts),
            style=_own("page.css"),
            scripts=scripts,
            summary=sentences.summary(measured, judged),
            in_short=sentences.regions_in_short,
            for_its_sheet=FOR_ITS_SHEET,
            pile=pile_rows(measured, judged, decided),
            cards=cards(measured, judged, pictures, flagged),
            spots=() if places is None else spots(measured, places, pictures),
            charts=consistency_charts(measured, judged),
            map=map_chart(measured, judged),
            tones=tone_charts(measured, judged, flagged),
            running=running_chart(measured, judged),
            courses=course_sentences(judged),
            power=power_rows(judged),
            sheets=sheets_chart(measured),
            remarks=[sentences.in_words(remark) for remark in (*measured.edition.remarks, *judged.remarks)],
            flags=_flags_met(measured),
            advice=advice(measured),
        )
    )


def content_policy(scripts: list[str]) -> str:
    """Return the policy by which the browser runs only these scripts and loads nothing.

    References
    ----------
    .. [1] W3C, Content Security Policy Level 3, section 2.3.1 (hash sources of inline scripts).
    """
    hashes = " ".join(
        f"'sha256-{base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()}'"
        for script in scripts
    )
    return (
        f"default-src 'none'; script-src {hashes}; style-src 'unsafe-inline'; img-src data:; "
        "form-action 'none'; base-uri 'none'"
    )


def pile_rows(
    measured: MeasuredEdition, judged: Judged, decided: pd.DataFrame | None = None
) -> tuple[PileRow, ...]:
    """Return the pile in order of printing."""
    by_people = {} if decided is None else standing(decided)
    table = {str(row["pull"]): row for row in judged.judgement.to_dict("records")}
    notes = {pull.pull: pull.notes for pull in measured.edition.pulls}
    rows = []
    for pull, verdict in sentences.verdicts(measured, judged).items():
        said = table.get(pull, {})
        causes = list(filter(None, str(said.get("causes", "")).split("; ")))
        rows.append(
            PileRow(
                pull=pull,
                designation=designation(measured, pull),
                verdict="provisional standard"
                if verdict == "standard" and measured.is_provisional
                else verdict,
                causes=", ".join(causes),
                regions=sentences.regions_in_short(
                    list(filter(None, str(said.get("regions", "")).split("; ")))
                ),
                telling=sentences.most_telling(judged.findings.loc[judged.findings["pull"] == pull], causes),
                note=measured.failures.get(pull, "") or notes[pull].get("note", ""),
                picture=sheet_picture(measured, pull, THUMB_PX),
                decided=_decided(by_people.get(pull)),
            )
        )
    return tuple(rows)


def _decided(row: dict[str, str] | None) -> str:
    """Return a decision as people read it.

    >>> _decided({"decision": "second", "reason": "fold", "by": "A.L.", "at": "2024-05-17T09:30:00+00:00"})
    'second: fold (A.L., 2024-05-17)'
    """
    if row is None:
        return ""
    why = f": {row['reason']}" if row["reason"] else ""
    return f"{row['decision']}{why} ({row['by']}, {row['at'][:10]})"


def _own(name: str) -> str:
    return resources.files("proofkit.report").joinpath(name).read_text(encoding="utf-8")


def _flags_met(measured: MeasuredEdition) -> list[tuple[str, str]]:
    """Return word and meaning of the quality flags that occur."""
    cells = [*measured.measurements["quality"], *measured.sheets["quality"]]
    met = {word.strip() for cell in set(cells) for word in str(cell).split(";")}
    return [meaning for meaning in quality.WORDS.values() if meaning[0] in met]
