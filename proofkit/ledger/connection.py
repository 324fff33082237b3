"""Open a ledger: a file in the edition's folder, or any database that SQLAlchemy knows."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy
from sqlalchemy import URL, Engine, event
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Session

from proofkit.errors import LedgerError
from proofkit.ledger.models import FORMAT, Base, MarkRecord

LEDGER_FILE = "ledger.sqlite"

WAIT_S = 30.0
"""How long to wait while another program writes to the same ledger file. [s]"""


@dataclass(frozen=True, slots=True, eq=False)
class Ledger:
    """An open ledger."""

    engine: Engine
    name: str
    """File or address without password, for messages."""
    edition: str = ""
    """Which edition's decisions are meant where several share a database; empty for a ledger of its own."""


def open_ledger(where: str | Path, edition: str = "") -> Ledger:
    """Open a ledger, making it if there is none.

    Parameters
    ----------
    where : str or Path
        Path of an SQLite file, or the URL of a database as SQLAlchemy writes it.
    edition : str
        Name of the edition in a ledger that several share.

    Raises
    ------
    LedgerError
        If it cannot be opened, is damaged or is not a ledger: one line.
    """
    url = _url(where)
    name = url.database or "" if url.get_backend_name() == "sqlite" else url.render_as_string()
    with _told(name):
        try:
            engine = sqlalchemy.create_engine(url)
        except ModuleNotFoundError as error:
            raise LedgerError(
                f"Ledger {name} needs the Python package {error.name}, which is not installed. "
                "Install it or leave --ledger out."
            ) from error
        if url.get_backend_name() == "sqlite":
            event.listen(engine, "connect", _prepare_sqlite)
            event.listen(engine, "begin", _begin_sqlite)
        ledger = Ledger(engine, name, edition)
        try:
            _make_tables(ledger)
        except (SQLAlchemyError, LedgerError):
            engine.dispose()
            raise
    return ledger


def close_ledger(ledger: Ledger) -> None:
    """Close all connections; an SQLite file is then complete by itself."""
    ledger.engine.dispose()


@contextmanager
def session_of(ledger: Ledger) -> Iterator[Session]:
    """Give one transaction: all of it is kept when the block ends, nothing of it when the block fails."""
    with _told(ledger.name), Session(ledger.engine) as session, session.begin():
        yield session


@contextmanager
def _told(name: str) -> Iterator[None]:
    """Turn errors of the database into one line."""
    try:
        yield
    except SQLAlchemyError as error:
        cause = " ".join(str(getattr(error, "orig", None) or error).split())
        raise LedgerError(f"Ledger {name}: {cause}. {_remedy(cause)}") from error


def _remedy(cause: str) -> str:
    if "not a database" in cause or "malformed" in cause or "corrupt" in cause:
        return (
            "The file is damaged or is no ledger: move it away or put a copy back; scans are then measured anew, "
            "but decisions are only in the ledger."
        )
    if "readonly" in cause or "unable to open" in cause:
        return "Make the folder writable, or give another place with --ledger."
    if "locked" in cause:
        return "Another program is writing to it: wait until that has ended, then run again."
    if "full" in cause:
        return "Make room on the disk, then run again."
    return "Check the address and the database, or leave --ledger out to use the file in the edition."


def _url(where: str | Path) -> URL:
    if isinstance(where, Path) or "://" not in where:
        path = Path(where)
        if path.is_dir():
            raise LedgerError(f"Ledger {path} is a folder, allowed is a file or a database address.")
        return URL.create("sqlite", database=str(path))
    try:
        return sqlalchemy.make_url(where)
    except SQLAlchemyError as error:
        raise LedgerError(
            "The address given for the ledger is none that SQLAlchemy reads; allowed is a file or "
            "dialect://user@host/name."
        ) from error


def _prepare_sqlite(connection: object, _record: object) -> None:
    """Set a write-ahead log, so that a reader and a writer do not stop each other, on disk at every end."""
    connection.isolation_level = None  # type: ignore[attr-defined]  # sqlite3's own BEGIN comes too late
    cursor = connection.cursor()  # type: ignore[attr-defined]
    cursor.execute(f"PRAGMA busy_timeout = {int(WAIT_S * 1000)}")
    cursor.execute("PRAGMA journal_mode = WAL")
    cursor.execute("PRAGMA synchronous = FULL")
    cursor.execute("PRAGMA foreign_keys = ON")
    cursor.close()


def _begin_sqlite(connection: sqlalchemy.Connection) -> None:
    # Taking the write lock at once waits for its turn; taking it in the middle of a transaction can fail.
    connection.exec_driver_sql("BEGIN IMMEDIATE")


def _make_tables(ledger: Ledger) -> None:
    """Make the tables of a new ledger in one transaction; leave alone what is something else."""
    with ledger.engine.begin() as connection:
        found = set(sqlalchemy.inspect(connection).get_table_names())
        is_file = connection.dialect.name == "sqlite"
        if MarkRecord.__tablename__ not in found:
            if found and is_file:
                raise LedgerError(
                    f"Ledger {ledger.name} is a database of another program (it has {sorted(found)[0]!r}). "
                    "Give another file."
                )
            Base.metadata.create_all(connection)
            connection.execute(sqlalchemy.insert(MarkRecord).values(format=FORMAT))
        formats = set(connection.scalars(sqlalchemy.select(MarkRecord.format)))
        if formats != {FORMAT}:
            raise LedgerError(
                f"Ledger {ledger.name} has format {sorted(formats)}, this proofkit reads "
                f"format {FORMAT}. Use the version that made it, or give another file."
            )
        # Tables that came later are added; those that are there are left alone.
        Base.metadata.create_all(connection)
        if is_file:
            fault = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar_one()
            if fault != "ok":
                raise LedgerError(
                    f"Ledger {ledger.name}: {str(fault).strip().splitlines()[-1]}. {_remedy('corrupt')}"
                )
