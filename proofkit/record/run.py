"""Bring the papers of an edition together and write what follows from them."""

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from proofkit.check.results import prepare_out, write_table
from proofkit.columns import NUMBERING, RECONCILIATION, make_table
from proofkit.document.html import to_html
from proofkit.document.pdf import letters_without_face, to_pdf
from proofkit.errors import LedgerError
from proofkit.folder.problems import quoted
from proofkit.folder.read import read_edition
from proofkit.folder.writing import write_bytes, write_text
from proofkit.ledger.connection import LEDGER_FILE, close_ledger, open_ledger
from proofkit.ledger.deciding import standing
from proofkit.ledger.decisions import EntryWord, add_decision, decisions
from proofkit.record.impressions import impressions
from proofkit.record.log import read_log
from proofkit.record.numbering import Numbered, propose
from proofkit.record.papers import read_papers, start_papers
from proofkit.record.reconcile import Reconciliation, reconcile
from proofkit.record.sheet_page import Sheet, documentation_page

FOLDER_NAME = "record"
SHEET_NAME = "documentation_sheet"


@dataclass(frozen=True, slots=True, eq=False)
class RecordResult:
    """What the papers say together and where it was written."""

    reconciliation: Reconciliation
    numbered: tuple[Numbered, ...]
    open_questions: tuple[str, ...]
    """All that does not add up or agree, one sentence each."""
    started: Path | None
    """A papers.toml that was written to be filled in."""
    page: Path
    """HTML; a PDF lies beside it."""


def record(
    folder: Path | str, *, out: Path | str | None = None, ledger_url: str | None = None
) -> RecordResult:
    """Account for every pull, propose numbers, and draft the documentation sheet.

    Parameters
    ----------
    folder : Path or str
        An edition: pulls.csv or scans, and where there are any pull_log.csv and papers.toml; a first papers.toml is
        written where there is none.
    out : Path or str, optional
        Folder for the results, results/record in the edition when left out.
    ledger_url : str, optional
        File or database address of the ledger, ledger.sqlite in the edition when left out.

    Raises
    ------
    ProofkitError
        If a file is not as it should be or nothing can be written: one line each.
    """
    folder = Path(folder)
    edition = read_edition(folder)
    papers, log = read_papers(folder), read_log(folder)
    results = prepare_out(folder / "results" / FOLDER_NAME if out is None else Path(out))
    started = start_papers(folder)
    ledger = open_ledger(ledger_url or folder / LEDGER_FILE, edition.title if ledger_url else "")
    try:
        decided = {pull: row["decision"] for pull, row in standing(decisions(ledger)).items()}
    finally:
        close_ledger(ledger)
    pile, disagree = impressions(edition.pulls, log, decided)
    reconciliation = reconcile(pile, papers.authorised)
    numbered, unnumbered = propose(pile, papers.authorised, papers.proof_numerals)
    remarks = (*disagree, *unnumbered, *papers.remarks)
    page = documentation_page(Sheet(edition, papers, log, reconciliation, remarks))
    write_table(results, "reconciliation", reconciliation_table(reconciliation), RECONCILIATION)
    write_table(results, "numbering", numbering_table(numbered), NUMBERING)
    write_bytes(results / f"{SHEET_NAME}.pdf", to_pdf(page))
    where = write_text(results / f"{SHEET_NAME}.html", to_html(page))
    unset = letters_without_face(page)
    questions = (*reconciliation.open_questions, *remarks, *((unset,) if unset else ()))
    return RecordResult(reconciliation, numbered, questions, started, where)


def reconciliation_table(result: Reconciliation) -> pd.DataFrame:
    """Return table `reconciliation`."""
    rows: list[dict[str, object]] = [
        {"account": one.account, "kind": one.kind, "count": len(one.pulls), "pulls": "; ".join(one.pulls)}
        for one in result.accounts
    ]
    return make_table(rows, RECONCILIATION)


def numbering_table(numbered: tuple[Numbered, ...]) -> pd.DataFrame:
    """Return table `numbering`."""
    return make_table(
        [{"pull": n.pull, "kind": n.kind, "designation": n.designation, "state": n.state} for n in numbered],
        NUMBERING,
    )


def decide_about(
    folder: Path | str, pull: str, word: EntryWord, *, reason: str, by: str, ledger_url: str | None = None
) -> None:
    """Add a decision about a pull that stands in pulls.csv or in the pull log, scanned or not, or take it back.

    Raises
    ------
    ProofkitError
        If there is no such pull, a value is not allowed or the ledger cannot be written.
    """
    folder = Path(folder)
    edition = read_edition(folder)
    known = {one.pull for one in edition.pulls} | {entry["pull"] for entry in read_log(folder)}
    if pull.strip() not in known:
        raise LedgerError(
            f"The decision is about pull {quoted(pull)}, which stands neither in pulls.csv nor in pull_log.csv. "
            "Enter it in the log first."
        )
    ledger = open_ledger(ledger_url or folder / LEDGER_FILE, edition.title if ledger_url else "")
    try:
        add_decision(ledger, pull.strip(), word, reason=reason, by=by)
    finally:
        close_ledger(ledger)
