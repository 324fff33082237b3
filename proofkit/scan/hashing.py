"""The hash of a scan file, told again without reading as long as the file has not been touched."""

import hashlib
import time
from functools import lru_cache
from pathlib import Path

SETTLED_S = 2.0
"""A file that was changed less than this before it was read may change again within the same time stamp. [s]"""

_KEPT = 10_000
"""Hashes kept by one process."""


def file_stamp(path: Path) -> str:
    """Return what changes when a file changes: size, inode and times; nothing when it is not there."""
    try:
        status = path.stat()
    except OSError:
        return ""
    return f"{status.st_size} {status.st_ino} {status.st_mtime_ns} {status.st_ctime_ns}"


def is_settled(path: Path) -> bool:
    """Return whether a file was left alone for so long that a change would show in its stamp."""
    try:
        status = path.stat()
    except OSError:
        return False
    return time.time() - max(status.st_mtime, status.st_ctime) > SETTLED_S


def file_hash(path: Path) -> str:
    """Return the SHA-256 of a file as 64 hexadecimal digits.

    Raises
    ------
    OSError
        If the file cannot be read.
    """
    if is_settled(path):
        return _hash_of(path.absolute(), file_stamp(path))
    return _hash_of.__wrapped__(path, "")


@lru_cache(maxsize=_KEPT)
def _hash_of(path: Path, _stamp: str) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
