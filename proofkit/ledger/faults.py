"""Faults of a database: which of them pass by themselves, and one line for those that do not."""

from sqlalchemy.exc import DBAPIError, OperationalError, SQLAlchemyError

from proofkit.errors import LedgerError

AWAY_STATES = ("08", "57P01", "57P02", "57P03")
"""SQLSTATEs of a server that is away: class 08 connection exception; 57P01 to 57P03 shutting down, crashed, not yet
accepting connections (PostgreSQL documentation, appendix A)."""

AGAIN_STATES = ("40001", "40P01")
"""SQLSTATEs of transactions that another one crossed, to be done again: serialization failure and deadlock."""

AWAY_WORDS = (
    "refused", "starting up", "shutting down", "timeout", "timed out", "unreachable", "no route to host",
    "closed the connection", "recovery", "not yet accepting", "no such file or directory", "connection reset",
)  # fmt: skip
"""What a first connection that fails says, lower case, when the server is away and not when it declines."""


def passes_by(error: SQLAlchemyError, *, was_open: bool) -> bool:
    """Return whether it is worth doing the transaction again.

    Parameters
    ----------
    error : SQLAlchemyError
    was_open : bool
        Whether this ledger could be used before; a server that knew user and password then is away now, whatever
        it says and in which language.
    """
    if not isinstance(error, DBAPIError):
        return False
    if error.connection_invalidated:
        return True
    state = getattr(error.orig, "sqlstate", None)
    if state is not None:
        return str(state).startswith(AWAY_STATES + AGAIN_STATES)
    if type(error.orig).__module__.startswith("sqlite3") or not isinstance(error, OperationalError):
        return False
    return was_open or any(word in str(error.orig).lower() for word in AWAY_WORDS)


def told(name: str, error: SQLAlchemyError, waited_s: float = 0.0) -> LedgerError:
    """Return the error in one line, with what to do.

    Parameters
    ----------
    name : str
        Of the ledger, without password.
    error : SQLAlchemyError
    waited_s : float
        How long the database was waited for. [s]
    """
    cause = " ".join(str(getattr(error, "orig", None) or error).split()).rstrip(".")
    if waited_s > 0:
        return LedgerError(
            f"Ledger {name}: the database was away for {waited_s:.0f} s ({cause}). Sheets that were kept stay kept; "
            "run again when it is back."
        )
    return LedgerError(f"Ledger {name}: {cause}. {remedy(cause)}")


def remedy(cause: str) -> str:
    """Return what to do about a fault."""
    for words, advice in _REMEDIES:
        if any(word in cause for word in words):
            return advice
    return "Check the address and the database, or leave --ledger out to use the file in the edition."


_REMEDIES = (
    (
        ("not a database", "malformed", "corrupt"),
        "The file is damaged or is no ledger: move it away or put a copy back; scans are then measured anew, "
        "but decisions are only in the ledger.",
    ),
    (
        ("readonly", "unable to open"),
        "Make the folder writable, or give another place with --ledger.",
    ),
    (("locked",), "Another program is writing to it: wait until that has ended, then run again."),
    (
        ("authentication", "password"),
        "Check user and password of the address (a password may also stand in ~/.pgpass).",
    ),
    (
        ("permission denied",),
        "Ask whoever keeps the database for the right to make and write tables in it.",
    ),
    (("full", "No space left"), "Make room on the disk, then run again."),
)
"""Words of a fault, and what to do about it; the first that fits."""
