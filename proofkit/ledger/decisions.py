"""Decisions of people about pulls; they are added, never changed."""

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Final, Literal, get_args

import pandas as pd
from sqlalchemy import select
from sqlalchemy.orm import Session

from proofkit.columns import DECISIONS, make_table, names
from proofkit.errors import LedgerError
from proofkit.folder.problems import quoted
from proofkit.ledger.connection import Ledger, transaction
from proofkit.ledger.models import DecisionRecord

Decision = Literal["keep", "second", "set aside", "spoiled"]
DECISION_WORDS: tuple[Decision, ...] = get_args(Decision)

TAKEN_BACK: Final = "taken back"
"""Entry that undoes the last one about a pull that still stands; the undone one stays in the ledger."""

EntryWord = Decision | Literal["taken back"]
ENTRY_WORDS: tuple[EntryWord, ...] = (*DECISION_WORDS, TAKEN_BACK)

LONGEST_INITIALS = 12


def add_decision(
    ledger: Ledger, pull: str, decision: EntryWord, *, reason: str, by: str, at: datetime | None = None
) -> None:
    """Add a decision to the ledger.

    Parameters
    ----------
    ledger : Ledger
    pull : str
        Pull number as in pulls.csv.
    decision : str
        `keep`, `second`, `set aside` or `spoiled`, or `taken back`, which undoes the last one that stands.
    reason : str
        In the person's own words; may be empty.
    by : str
        Initials.
    at : datetime, optional
        With its time zone; now when left out.

    Raises
    ------
    LedgerError
        If a value is not allowed, nothing stands that could be taken back, or the ledger cannot be written.
    """
    problems = []
    if not pull.strip():
        problems.append("The decision names no pull. Give the number of pulls.csv.")
    if decision not in ENTRY_WORDS:
        problems.append(f"The decision is {decision!r}, allowed is {', '.join(ENTRY_WORDS)}.")
    if not by.strip() or len(by.strip()) > LONGEST_INITIALS:
        problems.append(f"The initials are {by!r}, allowed are 1 to {LONGEST_INITIALS} characters.")
    if at is not None and at.tzinfo is None:
        problems.append(f"The time {at.isoformat()} has no time zone. Give one.")
    if problems:
        raise LedgerError("\n".join(problems))
    # To the millisecond, so that two entries alike, made in one second, stay two.
    when = (
        datetime.now(UTC).isoformat(timespec="milliseconds")
        if at is None
        else at.isoformat(timespec="seconds")
    )
    row = {
        "edition": ledger.edition,
        "pull": pull.strip(),
        "decision": decision,
        "reason": reason,
        "by": by.strip(),
        "at": when,
    }

    def add(session: Session) -> None:
        # Where the connection broke at the last word, this very row may be there already.
        same = select(DecisionRecord.id).filter_by(**row)
        if session.scalar(same) is not None:
            return
        if decision == TAKEN_BACK:
            _check_something_stands(session, ledger.edition, pull.strip())
        session.add(DecisionRecord(**row))

    transaction(ledger, add)


def standing_entry(words: Sequence[str]) -> int | None:
    """Return which of the entries about one pull counts: the last that was not taken back; None when none does.

    Parameters
    ----------
    words : sequence of str
        Their `decision`, in the order in which they were made.

    Examples
    --------
    >>> standing_entry(["keep", "second", "taken back"])
    0
    >>> standing_entry(["keep", "taken back"]) is None
    True
    """
    stand: list[int] = []
    for place, word in enumerate(words):
        if word != TAKEN_BACK:
            stand.append(place)
        elif stand:
            stand.pop()
    return stand[-1] if stand else None


def _check_something_stands(session: Session, edition: str, pull: str) -> None:
    asked = select(DecisionRecord.decision).filter_by(edition=edition, pull=pull).order_by(DecisionRecord.id)
    if standing_entry(list(session.scalars(asked))) is None:
        raise LedgerError(
            f"No decision about pull {quoted(pull)} stands, so there is none to take back. "
            f"Decide first: {', '.join(DECISION_WORDS)}."
        )


def decisions(ledger: Ledger) -> pd.DataFrame:
    """Return all decisions about the ledger's edition in the order in which they were made: table `decisions`."""
    columns = [getattr(DecisionRecord, name) for name in names(DECISIONS)]
    asked = select(*columns).where(DecisionRecord.edition == ledger.edition).order_by(DecisionRecord.id)

    def ask(session: Session) -> list[dict[str, object]]:
        return [dict(row) for row in session.execute(asked).mappings()]

    return make_table(transaction(ledger, ask), DECISIONS)
