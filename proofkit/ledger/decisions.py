"""Decisions of people about pulls; they are added, never changed."""

from datetime import UTC, datetime
from typing import Literal, get_args

import pandas as pd
from sqlalchemy import select
from sqlalchemy.orm import Session

from proofkit.columns import DECISIONS, make_table, names
from proofkit.errors import LedgerError
from proofkit.ledger.connection import Ledger, transaction
from proofkit.ledger.models import DecisionRecord

Decision = Literal["keep", "second", "set aside", "spoiled"]
DECISION_WORDS: tuple[Decision, ...] = get_args(Decision)

LONGEST_INITIALS = 12


def add_decision(
    ledger: Ledger, pull: str, decision: Decision, *, reason: str, by: str, at: datetime | None = None
) -> None:
    """Add a decision to the ledger.

    Parameters
    ----------
    ledger : Ledger
    pull : str
        Pull number as in pulls.csv.
    decision : str
        `keep`, `second`, `set aside` or `spoiled`.
    reason : str
        In the person's own words; may be empty.
    by : str
        Initials.
    at : datetime, optional
        With its time zone; now when left out.

    Raises
    ------
    LedgerError
        If a value is not allowed or the ledger cannot be written.
    """
    problems = []
    if not pull.strip():
        problems.append("The decision names no pull. Give the number of pulls.csv.")
    if decision not in DECISION_WORDS:
        problems.append(f"The decision is {decision!r}, allowed is {', '.join(DECISION_WORDS)}.")
    if not by.strip() or len(by.strip()) > LONGEST_INITIALS:
        problems.append(f"The initials are {by!r}, allowed are 1 to {LONGEST_INITIALS} characters.")
    if at is not None and at.tzinfo is None:
        problems.append(f"The time {at.isoformat()} has no time zone. Give one.")
    if problems:
        raise LedgerError("\n".join(problems))
    when = (at or datetime.now(UTC)).isoformat(timespec="seconds")
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
        if session.scalar(same) is None:
            session.add(DecisionRecord(**row))

    transaction(ledger, add)


def decisions(ledger: Ledger) -> pd.DataFrame:
    """Return all decisions about the ledger's edition in the order in which they were made: table `decisions`."""
    columns = [getattr(DecisionRecord, name) for name in names(DECISIONS)]
    asked = select(*columns).where(DecisionRecord.edition == ledger.edition).order_by(DecisionRecord.id)

    def ask(session: Session) -> list[dict[str, object]]:
        return [dict(row) for row in session.execute(asked).mappings()]

    return make_table(transaction(ledger, ask), DECISIONS)
