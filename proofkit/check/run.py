"""Check an edition folder from beginning to end."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

import pandas as pd

from proofkit.check.current import fingerprint, is_made_from, mark_made_from, program_digest
from proofkit.check.looking import look_for_places, places_table
from proofkit.check.measuring import MeasuredPile, measure_pile
from proofkit.check.results import prepare_out, write_tables
from proofkit.check.squares import pictures_of
from proofkit.choice.frozen import changes_since_signing
from proofkit.columns import PLACES, make_table
from proofkit.edition import MeasuredEdition, PlatePictures
from proofkit.errors import FolderError
from proofkit.folder.edition import Edition
from proofkit.folder.problems import quoted
from proofkit.folder.read import read_edition
from proofkit.judgement.judge import judge
from proofkit.judgement.own_places import with_places
from proofkit.judgement.plate_marks import on_plate_marks
from proofkit.judgement.types import Judged
from proofkit.ledger.connection import LEDGER_FILE, close_ledger, open_ledger
from proofkit.ledger.deciding import decisions_without_pull
from proofkit.ledger.decisions import decisions
from proofkit.progress import Progress, silent
from proofkit.sheet import SheetResult
from proofkit.workers.cluster import Cluster

REPORT_FILE = "report.html"


@dataclass(frozen=True, slots=True, eq=False)
class CheckResult:
    """What a check found and where it wrote it."""

    measured: MeasuredEdition
    judged: Judged
    failures: dict[str, str]
    """Pull -> why it could not be measured or compared."""
    new_sheets: int
    """How many sheets were measured in this run; the others were in the ledger."""
    report: Path
    pictures: PlatePictures
    """Gives squares of the laid scans, for looking."""
    places: pd.DataFrame = field(default_factory=lambda: make_table([], PLACES))
    """Table `places`."""
    sheets: dict[str, SheetResult] = field(default_factory=dict)
    """Pull -> how its sheet was laid, and all that was measured on it."""


def check(
    folder: Path | str,
    *,
    out: Path | str | None = None,
    ledger_url: str | None = None,
    workers: int | None = None,
    cluster: Cluster | None = None,
    standard: str | None = None,
    progress: Progress | None = None,
) -> CheckResult:
    """Measure what is new in an edition, judge it, and write tables and report.

    Parameters
    ----------
    folder : Path or str
        The edition.
    out : Path or str, optional
        Folder for tables and report, results/ in the edition when left out.
    ledger_url : str, optional
        File or database address of the ledger, ledger.sqlite in the edition when left out.
    workers : int, optional
        Sheets measured at once; as many as processors and memory allow when left out.
    cluster : str or distributed.Client, optional
        Scheduler of the machines that measure the sheets, in place of this one (extra ``proofkit[cluster]``).
    standard : str, optional
        Pull to serve as standard in place of the one that edition.toml names, which stays as it is.
    progress : callable, optional
        Called as ``progress(what, done, total)``.

    Returns
    -------
    CheckResult

    Raises
    ------
    ProofkitError
        If nothing could be done: what is wrong, what is allowed, what to do.
    """
    tell = progress or silent
    folder = Path(folder)
    edition = with_standard(read_edition(folder), standard)
    results_folder = prepare_out(folder / "results" if out is None else Path(out))
    ledger = open_ledger(ledger_url or folder / LEDGER_FILE, edition.title if ledger_url else "")
    try:
        pile = measure_pile(edition, ledger, workers, tell, cluster)
        decided = decisions(ledger)
        found = look_for_places(pile, ledger, tell)
    finally:
        close_ledger(ledger)
    tell("judging", 0, 1)
    places = places_table(found.places, pile)
    judged = with_places(judge(pile.measured), places)
    tell("judging", 1, 1)
    strays = decisions_without_pull(decided, (pull.pull for pull in edition.pulls))
    signed = changes_since_signing(
        pile.measured.edition,
        pile.measured.standard,
        str(pile.results[pile.measured.standard].sheet["sha256"]),
    )
    judged = replace(
        judged, remarks=(*judged.remarks, *signed, *strays, *found.remarks, *on_plate_marks(places))
    )
    write_tables(pile.measured, judged, results_folder, decided=decided, places=places)
    report = results_folder / REPORT_FILE
    pictures = pictures_of(pile)
    tell("writing the report", 0, 1)
    _write_report(pile, judged, _Beside(decided, places), pictures, report)
    tell("writing the report", 1, 1)
    return CheckResult(
        pile.measured,
        judged,
        _left_out(pile.measured, judged),
        pile.new_sheets,
        report,
        pictures,
        places,
        pile.results,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Beside:
    """Tables that the report shows beside measurements and judgement."""

    decided: pd.DataFrame
    places: pd.DataFrame


def _write_report(
    pile: MeasuredPile, judged: Judged, beside: _Beside, pictures: PlatePictures, report: Path
) -> None:
    """Write the report, unless the one that is there was made from the same: its pictures need the scans."""
    made_from = fingerprint(program_digest(), pile.measured, judged, beside.decided, beside.places)
    if is_made_from(report, made_from):
        return
    from proofkit.report.page import write_report  # noqa: PLC0415  loads the chart library

    try:
        write_report(pile.measured, judged, pictures, report, decided=beside.decided, places=beside.places)
        mark_made_from(report, made_from)
    except OSError as error:
        raise FolderError(
            f"{report} cannot be written ({error.strerror}). Make room or another folder with --out."
        ) from error


def with_standard(edition: Edition, standard: str | None) -> Edition:
    """Return the edition with another standard; as it is for None.

    Raises
    ------
    FolderError
        If there is no such pull.
    """
    if standard is None:
        return edition
    if standard not in {pull.pull for pull in edition.pulls}:
        raise FolderError(
            f"The standard is to be pull {quoted(standard)}, which is not in the edition. "
            "Give one of the pulls of pulls.csv."
        )
    return replace(edition, standard=standard)


def _left_out(measured: MeasuredEdition, judged: Judged) -> dict[str, str]:
    """Return the pulls that could not be measured, and those that could not be compared, with the reason."""
    table = judged.judgement
    apart = table.loc[table["verdict"] == "not comparable"]
    compared = dict(zip(apart["pull"].astype(str), apart["reason"].astype(str), strict=True))
    return {**compared, **measured.failures}
