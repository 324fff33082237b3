"""Which sheet of the ledger is which pull of which edition, and its measurements by those names."""

from collections.abc import Mapping

import pandas as pd
from sqlalchemy import delete, insert, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from proofkit.columns import MEASUREMENTS, make_table
from proofkit.errors import LedgerError
from proofkit.ledger.connection import Ledger, transaction
from proofkit.ledger.keys import SheetKey
from proofkit.ledger.models import MeasureRecord, PullRecord, RegionRecord, SheetRecord

Pulls = Mapping[str, tuple[str, SheetKey]]
"""Pull -> its scan and the key of its sheet, in order of printing."""


def note_pulls(ledger: Ledger, pulls: Pulls) -> None:
    """Keep which sheets the pulls of the ledger's edition are now, in place of what was kept before.

    Raises
    ------
    LedgerError
        If the ledger cannot be written.
    """
    digests = {pull: key.digest for pull, (_, key) in pulls.items()}

    def write(session: Session) -> None:
        asked = select(SheetRecord.key, SheetRecord.id).where(SheetRecord.key.in_(set(digests.values())))
        ids = {row.key: row.id for row in session.execute(asked)}
        rows = [
            {
                "edition": ledger.edition,
                "pull": pull,
                "position": position,
                "scan": scan,
                "sheet_id": ids[digests[pull]],
            }
            for position, (pull, (scan, _)) in enumerate(pulls.items())
            if digests[pull] in ids
        ]
        kept = select(*PullRecord.__table__.columns).where(PullRecord.edition == ledger.edition)
        before = session.execute(kept.order_by(PullRecord.position)).mappings().all()
        if [dict(row) for row in before] == rows:
            return
        session.execute(delete(PullRecord).where(PullRecord.edition == ledger.edition))
        if rows:
            session.execute(insert(PullRecord), rows)

    try:
        transaction(ledger, write)
    except LedgerError as error:
        if not isinstance(error.__cause__, IntegrityError):
            raise
        # Another check of the same edition wrote between the question and the answer.


def kept_editions(ledger: Ledger) -> list[str]:
    """Return the names of the editions that were checked with this ledger."""
    asked = select(PullRecord.edition).distinct().order_by(PullRecord.edition)
    return transaction(ledger, lambda session: list(session.scalars(asked)))


def kept_measurements(ledger: Ledger, edition: str = "", pull: str | None = None) -> pd.DataFrame:
    """Return the table `measurements` of an edition as last checked, or of one pull of it.

    Parameters
    ----------
    ledger : Ledger
    edition : str
        One of `kept_editions`; the empty name is that of a ledger of its own.
    pull : str, optional
        All pulls when left out.

    Raises
    ------
    LedgerError
        If the ledger cannot be read.
    """
    which = select(PullRecord.pull, PullRecord.scan, PullRecord.position, PullRecord.sheet_id).where(
        PullRecord.edition == edition
    )
    chosen = (which if pull is None else which.where(PullRecord.pull == pull)).subquery()
    regions = (
        select(chosen.c.pull, chosen.c.scan, RegionRecord.region, RegionRecord.work, RegionRecord.quality)
        .join(RegionRecord, RegionRecord.sheet_id == chosen.c.sheet_id)
        .order_by(chosen.c.position, RegionRecord.position)
    )
    measures = select(
        chosen.c.pull,
        MeasureRecord.region,
        MeasureRecord.measure,
        MeasureRecord.value,
        MeasureRecord.uncertainty,
    ).join(MeasureRecord, MeasureRecord.sheet_id == chosen.c.sheet_id)

    def ask(session: Session) -> list[dict[str, object]]:
        rows: dict[tuple[str, str], dict[str, object]] = {}
        for found in session.execute(regions).mappings():
            rows[found["pull"], found["region"]] = {str(name): value for name, value in found.items()}
        for name, region, measure, value, uncertainty in session.execute(measures):
            row = rows[name, region]
            row |= {measure: value} if value is not None else {}
            row |= {f"u_{measure}": uncertainty} if uncertainty is not None else {}
        return list(rows.values())

    return make_table(transaction(ledger, ask), MEASUREMENTS)
