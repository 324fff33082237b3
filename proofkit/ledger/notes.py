"""Small facts that spare work in the next run: hashes of files, sizes of standards, the choice of a standard."""

from collections.abc import Iterable
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from proofkit.errors import LedgerError
from proofkit.folder.edition import Edition, Pull
from proofkit.ledger.connection import Ledger, transaction
from proofkit.ledger.models import Base, ChoiceRecord, FileRecord, StandardRecord
from proofkit.scan.fetching import Place, fetched, place_stamp, scan_place
from proofkit.scan.hashing import file_hash, is_settled

ASKED_AT_ONCE = 400
"""Values in one question; SQLite allows 999 and more. [-]"""


def known_hashes(ledger: Ledger, places: Iterable[Place]) -> dict[Place, str]:
    """Return the SHA-256 of files without reading them; those that are not known or were touched since are left out."""
    stamps: dict[str, tuple[Place, str]] = {}
    for place in places:
        stamp = place_stamp(place)
        if stamp:
            stamps[_name(place)] = (place, stamp)

    def ask(session: Session) -> dict[str, tuple[str, str]]:
        found: dict[str, tuple[str, str]] = {}
        columns = select(FileRecord.path, FileRecord.stamp, FileRecord.sha256)
        for names in _batches(list(stamps)):
            for name, stamp, sha256 in session.execute(columns.where(FileRecord.path.in_(names))):
                found[name] = (stamp, sha256)
        return found

    known = transaction(ledger, ask)
    return {
        place: known[name][1]
        for name, (place, stamp) in stamps.items()
        if name in known and known[name][0] == stamp
    }


def _batches(values: list[str]) -> Iterable[list[str]]:
    return (values[start : start + ASKED_AT_ONCE] for start in range(0, len(values), ASKED_AT_ONCE))


def file_sha256(ledger: Ledger, path: Path) -> str:
    """Return the SHA-256 of a file, from the ledger when size, inode and times of the file are as they were.

    Raises
    ------
    OSError
        If the file cannot be read.
    """
    known = known_hashes(ledger, [path])
    if path in known:
        return known[path]
    before = place_stamp(path)
    sha256 = file_hash(path)
    note_hash(ledger, path, before, sha256)
    return sha256


def scan_sha256(ledger: Ledger, edition: Edition, pull: Pull) -> str:
    """Return the SHA-256 of a pull's scan; one that lies elsewhere is fetched unless the ledger knows it.

    Raises
    ------
    OSError, ScanError
        If it cannot be read or fetched.
    """
    place = scan_place(edition, pull)
    known = known_hashes(ledger, [place])
    if place in known:
        return known[place]
    stamp = place_stamp(place)
    with fetched(edition, pull) as path:
        sha256 = file_hash(path)
    note_hash(ledger, place, stamp, sha256)
    return sha256


def note_hash(ledger: Ledger, place: Place, stamp: str, sha256: str) -> None:
    """Keep the hash of a file, unless it has changed since `stamp`, or so lately that it may change unnoticed."""
    settled = isinstance(place, str) or is_settled(place)
    if stamp and settled and place_stamp(place) == stamp:
        _note(ledger, FileRecord, path=_name(place), stamp=stamp, sha256=sha256)


def _name(place: Place) -> str:
    return place if isinstance(place, str) else str(place.absolute())


def _note(ledger: Ledger, kind: type[Base], **values: object) -> None:
    """Keep a note, in place of an older one."""

    def write(session: Session) -> None:
        session.merge(kind(**values))

    try:
        transaction(ledger, write)
    except LedgerError as error:
        if not isinstance(error.__cause__, IntegrityError):
            raise
        # Another program noted the same between the question and the answer.


def find_plate_size(ledger: Ledger, key: str) -> tuple[float, float] | None:
    """Return width and height of the plate of a standard that was made before. [mm]"""

    def ask(session: Session) -> tuple[float, float] | None:
        known = session.get(StandardRecord, key)
        return None if known is None else (known.plate_width_mm, known.plate_height_mm)

    return transaction(ledger, ask)


def save_plate_size(ledger: Ledger, key: str, width_mm: float, height_mm: float) -> None:
    """Keep the size of the plate of a standard. [mm]"""
    _note(ledger, StandardRecord, key=key, plate_width_mm=width_mm, plate_height_mm=height_mm)


def find_choice(ledger: Ledger, key: str) -> str | None:
    """Return the hash of the scan that was found most central of a pile."""

    def ask(session: Session) -> str | None:
        known = session.get(ChoiceRecord, key)
        return None if known is None else known.scan_sha256

    return transaction(ledger, ask)


def save_choice(ledger: Ledger, key: str, scan_sha256: str) -> None:
    """Keep which scan of a pile was found most central."""
    _note(ledger, ChoiceRecord, key=key, scan_sha256=scan_sha256)
