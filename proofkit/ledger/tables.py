"""Make the tables of a new ledger; leave alone what is something else."""

import sqlalchemy
from sqlalchemy import Connection

from proofkit.errors import LedgerError
from proofkit.ledger.faults import remedy
from proofkit.ledger.models import FORMAT, Base, MarkRecord

_LOCK_NUMBER = 0x70726F6F66
"""Of the lock that two programs making the same tables take turns with: the letters "proof"."""


CHECKED_BYTES = 100e6
"""Largest file that is looked through whenever it is opened: a tenth of a second. [bytes]"""


def make_tables(connection: Connection, name: str) -> None:
    """Make the tables that are missing, in the transaction of `connection`.

    Raises
    ------
    LedgerError
        If the file is another program's, damaged, or of another format: one line.
    """
    dialect = connection.dialect.name
    if dialect == "postgresql":
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_LOCK_NUMBER})")
    found = set(sqlalchemy.inspect(connection).get_table_names())
    if MarkRecord.__tablename__ not in found:
        if found and dialect == "sqlite":
            raise LedgerError(
                f"Ledger {name} is a database of another program (it has {sorted(found)[0]!r}). Give another file."
            )
        Base.metadata.create_all(connection)
        connection.execute(sqlalchemy.insert(MarkRecord).values(format=FORMAT))
    _check_format(connection, name)
    if not found.issuperset(Base.metadata.tables):
        Base.metadata.create_all(connection)  # tables that came later only add to those that are there
    if dialect == "sqlite":
        _check_whole(connection, name)


def _check_format(connection: Connection, name: str) -> None:
    formats = set(connection.scalars(sqlalchemy.select(MarkRecord.format)))
    if formats != {FORMAT}:
        raise LedgerError(
            f"Ledger {name} has format {sorted(formats)}, this proofkit reads format {FORMAT}. "
            "Use the version that made it, or give another file."
        )


def _check_whole(connection: Connection, name: str) -> None:
    """Look through a small file at once; in a large one SQLite tells of damage when it comes to it."""
    pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
    if pages * connection.exec_driver_sql("PRAGMA page_size").scalar_one() > CHECKED_BYTES:
        return
    fault = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar_one()
    if fault != "ok":
        raise LedgerError(f"Ledger {name}: {str(fault).strip().splitlines()[-1]}. {remedy('corrupt')}")
