"""Small facts that spare work in the next run: hashes of files, sizes of standards, the choice of a standard."""

import hashlib
import time
from pathlib import Path

from proofkit.ledger.connection import Ledger, session_of
from proofkit.ledger.models import ChoiceRecord, FileRecord, StandardRecord

SETTLED_S = 2.0
"""A file that was changed less than this before it was read may change again within the same time stamp. [s]"""


def known_sha256(ledger: Ledger, path: Path) -> str | None:
    """Return the SHA-256 of a file without reading it, None when it is not known or the file was touched since."""
    try:
        stamp = _stamp(path)
    except OSError:
        return None
    with session_of(ledger) as session:
        known = session.get(FileRecord, str(path.absolute()))
        return known.sha256 if known is not None and known.stamp == stamp else None


def file_sha256(ledger: Ledger, path: Path) -> str:
    """Return the SHA-256 of a file, from the ledger when size, inode and times of the file are as they were.

    Raises
    ------
    OSError
        If the file cannot be read.
    """
    known = known_sha256(ledger, path)
    if known is not None:
        return known
    before = _stamp(path)
    with path.open("rb") as file:
        sha256 = hashlib.file_digest(file, "sha256").hexdigest()
    status = path.stat()
    settled = time.time() - max(status.st_mtime, status.st_ctime) > SETTLED_S
    if settled and _stamp(path) == before:
        with session_of(ledger) as session:
            session.merge(FileRecord(path=str(path.absolute()), stamp=before, sha256=sha256))
    return sha256


def _stamp(path: Path) -> str:
    status = path.stat()
    return f"{status.st_size} {status.st_ino} {status.st_mtime_ns} {status.st_ctime_ns}"


def find_plate_size(ledger: Ledger, key: str) -> tuple[float, float] | None:
    """Return width and height of the plate of a standard that was made before. [mm]"""
    with session_of(ledger) as session:
        known = session.get(StandardRecord, key)
        return None if known is None else (known.plate_width_mm, known.plate_height_mm)


def save_plate_size(ledger: Ledger, key: str, width_mm: float, height_mm: float) -> None:
    """Keep the size of the plate of a standard. [mm]"""
    with session_of(ledger) as session:
        session.merge(StandardRecord(key=key, plate_width_mm=width_mm, plate_height_mm=height_mm))


def find_choice(ledger: Ledger, key: str) -> str | None:
    """Return the hash of the scan that was found most central of a pile."""
    with session_of(ledger) as session:
        known = session.get(ChoiceRecord, key)
        return None if known is None else known.scan_sha256


def save_choice(ledger: Ledger, key: str, scan_sha256: str) -> None:
    """Keep which scan of a pile was found most central."""
    with session_of(ledger) as session:
        session.merge(ChoiceRecord(key=key, scan_sha256=scan_sha256))
