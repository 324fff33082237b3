"""Lay the trial proofs of an edition side by side, from beginning to end."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from proofkit.check.measuring import MeasuredPile, measure_pile
from proofkit.check.results import prepare_out, write_table
from proofkit.check.squares import pictures_of
from proofkit.choice import Choice, weigh_candidates
from proofkit.choice.words import check_wishes
from proofkit.columns import CHOICE_CANDIDATES, CHOICE_DIFFERENCES, CHOICE_WISHES
from proofkit.edition import MeasuredEdition, PlatePictures
from proofkit.errors import FolderError
from proofkit.folder.read import read_edition
from proofkit.ledger.connection import LEDGER_FILE, close_ledger, open_ledger
from proofkit.progress import Progress, silent

PAGE_FILE = "choice.html"


@dataclass(frozen=True, slots=True, eq=False)
class ChoiceResult:
    """Trial proofs beside each other, and where that was written."""

    measured: MeasuredEdition
    choice: Choice
    failures: dict[str, str]
    """Pull -> why its scan could not be measured."""
    new_sheets: int
    """How many were measured in this run."""
    page: Path
    pictures: PlatePictures
    """Gives squares of the laid scans, for looking."""


def choose(
    folder: Path | str,
    *,
    out: Path | str | None = None,
    ledger_url: str | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
) -> ChoiceResult:
    """Lay the trial proofs of an edition beside each other and write tables and page.

    Nobody is named the winner, and nothing is signed: `sign_standard` does that when the artist has chosen.

    Parameters
    ----------
    folder : Path or str
        The edition; ``[wishes]`` of its edition.toml say what the artist wants of each region.
    out : Path or str, optional
        Folder for tables and page, results/ in the edition when left out.
    ledger_url : str, optional
        File or database address of the ledger, ledger.sqlite in the edition when left out.
    workers : int, optional
        Sheets measured at once; as many as processors and memory allow when left out.
    progress : callable, optional
        Called as ``progress(what, done, total)``.

    Returns
    -------
    ChoiceResult

    Raises
    ------
    ProofkitError
        If nothing could be done: what is wrong, what is allowed, what to do.
    """
    tell = progress or silent
    folder = Path(folder)
    edition = read_edition(folder)
    check_wishes(edition.wishes)
    results_folder = prepare_out(folder / "results" if out is None else Path(out))
    ledger = open_ledger(ledger_url or folder / LEDGER_FILE, edition.title if ledger_url else "")
    try:
        pile = measure_pile(edition, ledger, workers, tell)
    finally:
        close_ledger(ledger)
    choice = weigh_candidates(pile.measured)
    _write_tables(choice, results_folder)
    page = results_folder / PAGE_FILE
    pictures = pictures_of(pile)
    tell("writing the page", 0, 1)
    _write_page(pile, choice, pictures, page)
    tell("writing the page", 1, 1)
    return ChoiceResult(pile.measured, choice, dict(pile.measured.failures), pile.new_sheets, page, pictures)


def _write_tables(choice: Choice, out: Path) -> None:
    tables = (
        ("choice_candidates", choice.table, CHOICE_CANDIDATES),
        ("choice_wishes", choice.granted, CHOICE_WISHES),
        ("choice_differences", choice.differences, CHOICE_DIFFERENCES),
    )
    for name, table, columns in tables:
        write_table(out, name, table, columns)


def _write_page(pile: MeasuredPile, choice: Choice, pictures: PlatePictures, page: Path) -> None:
    from proofkit.report.choice_page import write_choice_page  # noqa: PLC0415  loads the chart library

    try:
        write_choice_page(pile.measured, choice, pictures, page)
    except OSError as error:
        raise FolderError(
            f"{page} cannot be written ({error.strerror}). Make room or another folder with --out."
        ) from error
