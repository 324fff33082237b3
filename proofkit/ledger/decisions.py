"""Decisions of people about pulls; they are added, never changed."""

from datetime import UTC, datetime
from typing import Literal, cast, get_args

import pandas as pd
from sqlalchemy import select

from proofkit.columns import DECISIONS, make_table, names
from proofkit.errors import LedgerError
from proofkit.ledger.connection import Ledger, session_of
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
    with session_of(ledger) as session:
        session.add(
            DecisionRecord(
                edition=ledger.edition,
                pull=pull.strip(),
                decision=decision,
                reason=reason,
                by=by.strip(),
                at=when,
            )
        )


def decisions(ledger: Ledger) -> pd.DataFrame:
    """Return all decisions about the ledger's edition in the order in which they were made: table `decisions`."""
    asked = select(DecisionRecord).where(DecisionRecord.edition == ledger.edition).order_by(DecisionRecord.id)
    with session_of(ledger) as session:
        rows = [
            {name: cast("object", getattr(record, name)) for name in names(DECISIONS)}
            for record in session.scalars(asked)
        ]
    return make_table(rows, DECISIONS)
