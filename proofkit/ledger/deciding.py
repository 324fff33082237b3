"""Enter a person's decision about a pull of an edition folder, and read what was decided."""

from collections.abc import Iterable
from pathlib import Path

import pandas as pd

from proofkit.errors import LedgerError
from proofkit.folder.problems import quoted
from proofkit.folder.read import read_edition
from proofkit.ledger.connection import LEDGER_FILE, close_ledger, open_ledger
from proofkit.ledger.decisions import EntryWord, add_decision, decisions, standing_entry
from proofkit.wording import first_of

PULLS_SHOWN = 12
"""Pulls named in a message before it says how many more there are."""


def decide(
    folder: Path | str,
    pull: str,
    decision: EntryWord,
    *,
    reason: str,
    by: str,
    ledger_url: str | None = None,
) -> pd.DataFrame:
    """Add a person's decision about a pull to the ledger of an edition.

    Parameters
    ----------
    folder : Path or str
        The edition.
    pull : str
        As in pulls.csv.
    decision : str
        `keep`, `second`, `set aside` or `spoiled`, or `taken back`, which undoes the last one that stands.
    reason : str
        In the person's own words; may be empty.
    by : str
        Initials.
    ledger_url : str, optional
        File or database address of the ledger, ledger.sqlite in the edition when left out.

    Returns
    -------
    pandas.DataFrame
        Table `decisions`: all that was ever entered, the new entry last. Nothing is replaced; see `standing` for
        what counts.

    Raises
    ------
    FolderError
        If the folder cannot be read as an edition.
    LedgerError
        If there is no such pull, a value is not allowed, nothing stands that could be taken back, or the ledger
        cannot be written.
    """
    edition = read_edition(Path(folder))
    known = [row.pull for row in edition.pulls]
    if pull.strip() not in known:
        raise LedgerError(
            f"The decision is about pull {quoted(pull)}, which is not in the edition; allowed are "
            f"{first_of(known, PULLS_SHOWN)}. Give one of them, or add the pull to pulls.csv first."
        )
    ledger = open_ledger(ledger_url or edition.folder / LEDGER_FILE, edition.title if ledger_url else "")
    try:
        add_decision(ledger, pull, decision, reason=reason, by=by)
        return decisions(ledger)
    finally:
        close_ledger(ledger)


def read_decisions(folder: Path | str, ledger_url: str | None = None) -> pd.DataFrame:
    """Return table `decisions` of an edition in the order in which they were made.

    Raises
    ------
    ProofkitError
        If the folder or the ledger cannot be read.
    """
    edition = read_edition(Path(folder))
    ledger = open_ledger(ledger_url or edition.folder / LEDGER_FILE, edition.title if ledger_url else "")
    try:
        return decisions(ledger)
    finally:
        close_ledger(ledger)


def standing(table: pd.DataFrame) -> dict[str, dict[str, str]]:
    """Return pull -> the row of table `decisions` that counts: the last one about it that was not taken back.

    Pulls about which no decision stands are left out.

    Examples
    --------
    >>> rows = [("3", "keep", "", "A", "1"), ("3", "second", "fold", "B", "2")]
    >>> standing(pd.DataFrame(rows, columns=["pull", "decision", "reason", "by", "at"]))["3"]["decision"]
    'second'
    """
    entries: dict[str, list[dict[str, str]]] = {}
    for record in table.to_dict("records"):
        row = {str(key): str(value) for key, value in record.items()}
        entries.setdefault(row["pull"], []).append(row)
    places = {pull: standing_entry([row["decision"] for row in rows]) for pull, rows in entries.items()}
    return {pull: entries[pull][place] for pull, place in places.items() if place is not None}


def decisions_without_pull(table: pd.DataFrame, pulls: Iterable[str]) -> list[str]:
    """Return a sentence for each pull that was decided about and is not in pulls.csv (any more)."""
    known = set(pulls)
    return [
        f"Decision '{row['decision']}' by {row['by']} is about pull {quoted(pull)}, which is not in pulls.csv; "
        "it is kept in the ledger."
        for pull, row in standing(table).items()
        if pull not in known
    ]
