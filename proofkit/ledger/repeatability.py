"""Keep the result of the last re-lay study, for judgement."""

import json
from datetime import UTC, datetime

import pandas as pd
from sqlalchemy.orm import Session

from proofkit.columns import REPEATABILITY, make_table
from proofkit.ledger.connection import Ledger, transaction
from proofkit.ledger.keys import measure_version
from proofkit.ledger.models import RepeatabilityRecord
from proofkit.ledger.packing import to_json


def save_repeatability(ledger: Ledger, table: pd.DataFrame) -> None:
    """Keep the table of a re-lay study in place of the one before.

    Raises
    ------
    LedgerError
        If the ledger cannot be written.
    """
    values = {
        "edition": ledger.edition,
        "made_at": datetime.now(UTC).isoformat(timespec="seconds"),
        "version": measure_version(),
        "rows": to_json(table.to_dict("records")),
    }

    def write(session: Session) -> None:
        session.merge(RepeatabilityRecord(**values))

    transaction(ledger, write)


def find_repeatability(ledger: Ledger) -> pd.DataFrame:
    """Return the table of the last re-lay study, empty when there was none.

    Raises
    ------
    LedgerError
        If the ledger cannot be read.
    """

    def ask(session: Session) -> str:
        record = session.get(RepeatabilityRecord, ledger.edition)
        return "[]" if record is None else record.rows

    rows = json.loads(transaction(ledger, ask))
    known = {column.name for column in REPEATABILITY}
    return make_table(
        [{name: value for name, value in row.items() if name in known and value is not None} for row in rows],
        REPEATABILITY,
    )


def on_older_repeatability(ledger: Ledger) -> list[str]:
    """Return a remark where the re-lay study was measured by another program than the sheets are now, else nothing.

    Raises
    ------
    LedgerError
        If the ledger cannot be read.
    """

    def ask(session: Session) -> tuple[str, str, str] | None:
        record = session.get(RepeatabilityRecord, ledger.edition)
        return None if record is None else (record.version, record.made_at, record.rows)

    kept = transaction(ledger, ask)
    if kept is None or kept[0] == measure_version() or kept[2] == "[]":
        return []
    return [
        f"The re-lay study of {kept[1][:10]}, which says how small a difference counts, was measured by another "
        "version of this program or its libraries. Do it again: proofkit study FOLDER --relay."
    ]
