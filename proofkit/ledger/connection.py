"""Open a ledger: a file in the edition's folder, or a database that several machines share."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

import sqlalchemy
from sqlalchemy import URL, Engine, event
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Session

from proofkit.errors import LedgerError
from proofkit.ledger.addresses import connect_arguments, name_of, url_of
from proofkit.ledger.faults import passes_by, told
from proofkit.ledger.tables import make_tables

LEDGER_FILE = "ledger.sqlite"

WAIT_S = 30.0
"""How long to wait while another program writes to the same ledger file. [s]"""

PATIENCE_S = 90.0
"""How long to wait for a database that is away: a server that is restarted is back within a minute. [s]"""

FIRST_PAUSE_S = 0.1
LONGEST_PAUSE_S = 5.0
"""Pauses between attempts grow from the first to the longest. [s]"""

T = TypeVar("T")


@dataclass(frozen=True, slots=True, eq=False)
class Ledger:
    """An open ledger."""

    engine: Engine
    name: str
    """File or address without password, for messages."""
    edition: str = ""
    """Which edition is meant where several share a database; empty for a ledger of its own."""
    patience_s: float = field(default=PATIENCE_S)
    """How long a database that is away is waited for. [s]"""


def open_ledger(where: str | Path, edition: str = "", *, patience_s: float = PATIENCE_S) -> Ledger:
    """Open a ledger, making it if there is none.

    Parameters
    ----------
    where : str or Path
        Path of an SQLite file, or the URL of a database as SQLAlchemy writes it.
    edition : str
        Name of the edition in a ledger that several share.
    patience_s : float, default PATIENCE_S
        How long to wait for a database that is away, now and later. [s]

    Raises
    ------
    LedgerError
        If it cannot be opened, is damaged or is not a ledger: one line.
    """
    url = url_of(where)
    name = name_of(url)
    try:
        engine = _engine(url)
    except ModuleNotFoundError as error:
        extra = " (it comes with proofkit[postgres])" if error.name == "psycopg" else ""
        raise LedgerError(
            f"Ledger {name} needs the Python package {error.name}{extra}, which is not installed. "
            "Install it or leave --ledger out."
        ) from error
    except SQLAlchemyError as error:
        raise told(name, error) from error
    ledger = Ledger(engine, name, edition, patience_s)
    try:
        _until_done(ledger, lambda session: make_tables(session.connection(), name), was_open=False)
    except LedgerError:
        engine.dispose()
        raise
    return ledger


def close_ledger(ledger: Ledger) -> None:
    """Close all connections; an SQLite file is then complete by itself."""
    ledger.engine.dispose()


def folder_of(ledger: Ledger) -> Path | None:
    """Return the folder of a ledger that is a file; None for a database."""
    url = ledger.engine.url
    if url.get_backend_name() != "sqlite" or url.database in {None, "", ":memory:"}:
        return None
    return Path(str(url.database)).absolute().parent


def transaction(ledger: Ledger, work: Callable[[Session], T]) -> T:
    """Do `work` in one transaction and return what it returns; all of it is kept, or nothing when it fails.

    Parameters
    ----------
    ledger : Ledger
    work : callable
        Takes a session, returns plain values. It may be done more than once: when the database goes away in the
        middle, nothing of that attempt was kept, and it is done again from its beginning. Where the connection is
        lost while the last word ("commit") is under way, it may have been kept, so work that adds has to look
        first whether it did.

    Raises
    ------
    LedgerError
        If the ledger cannot be used, or stays away longer than its patience: one line.
    """
    return _until_done(ledger, work, was_open=True)


def _until_done(ledger: Ledger, work: Callable[[Session], T], *, was_open: bool) -> T:
    began = time.monotonic()
    pause = FIRST_PAUSE_S
    waited = 0.0
    while True:
        try:
            with Session(ledger.engine) as session, session.begin():
                return work(session)
        except SQLAlchemyError as error:
            if not passes_by(error, was_open=was_open):
                raise told(ledger.name, error) from error
            waited = time.monotonic() - began
            if waited + pause > ledger.patience_s:
                raise told(ledger.name, error, waited) from error
        time.sleep(pause)
        pause = min(2 * pause, LONGEST_PAUSE_S)


def _engine(url: URL) -> Engine:
    if url.get_backend_name() != "sqlite":
        # Asking a connection from the pool whether it still lives costs one short question a transaction.
        return sqlalchemy.create_engine(url, pool_pre_ping=True, connect_args=connect_arguments(url))
    engine = sqlalchemy.create_engine(url)
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


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
