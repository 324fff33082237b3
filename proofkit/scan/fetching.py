"""Scans that lie elsewhere than on this machine's disks: fetched for as long as they are read.

An address is anything that fsspec reads (extra ``proofkit[cluster]``): ``s3://bucket/a.tif``, ``sftp://host/a.tif``,
``zip://a.tif::/archive/mill.zip``. Decoders want to jump about in a file, so it is copied to the temporary folder
first.
"""

import shutil
import tarfile
import threading
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TypeAlias

from proofkit.errors import ScanError
from proofkit.folder.edition import Edition, Pull
from proofkit.folder.naming import is_address
from proofkit.folder.problems import quoted
from proofkit.scan.hashing import file_stamp

Place: TypeAlias = Path | str
"""A file on this machine, or the address of one elsewhere."""

_CHANGING = (
    "mtime",
    "LastModified",
    "last_modified",
    "updated",
    "ETag",
    "etag",
    "md5Hash",
    "crc32c",
    "CRC",
    "ino",
)
"""What file systems say of a file that changes with its content; a size alone does not tell."""

_FAULTS = (OSError, KeyError, ValueError, EOFError, zipfile.BadZipFile, tarfile.TarError)
"""What file systems and archives raise when they cannot give a file."""

_lock = threading.Lock()
_readers: dict[Path, int] = {}


@contextmanager
def fetched(edition: Edition, pull: Pull) -> Iterator[Path]:
    """Give where the scan of a pull lies on this machine, copied there while the block lasts if it lies elsewhere.

    Raises
    ------
    ScanError
        If it cannot be fetched: one line.
    """
    path = edition.scan_path(pull)
    if not is_address(pull.scan):
        yield path
        return
    with _lock:
        _readers[path] = _readers.get(path, 0) + 1
    try:
        with _lock_of(path):
            if not path.exists():
                _fetch(pull.scan, path)
        yield path
    finally:
        with _lock:
            _readers[path] -= 1
            last = _readers[path] == 0
            if last:
                del _readers[path]
                shutil.rmtree(path.parent, ignore_errors=True)
                with suppress(OSError):  # other scans of this process may be there
                    path.parents[1].rmdir()


_locks: dict[Path, threading.Lock] = {}


def _lock_of(path: Path) -> threading.Lock:
    """Return the lock under which a file is fetched, so that two readers do not fetch it twice."""
    with _lock:
        return _locks.setdefault(path, threading.Lock())


def scan_place(edition: Edition, pull: Pull) -> Place:
    """Return where the scan of a pull lies for good."""
    return pull.scan if is_address(pull.scan) else edition.scan_path(pull)


def place_stamp(place: Place) -> str:
    """Return what changes when a file changes; nothing when it is not there, or nothing tells."""
    return remote_stamp(place) if isinstance(place, str) else file_stamp(place)


def remote_stamp(address: str) -> str:
    """Return what changes when a file elsewhere changes; nothing when it is not there or nothing tells."""
    try:
        files, path = _file_system(address)
        files.invalidate_cache()
        info = files.info(path)
    except (ScanError, *_FAULTS):
        return ""
    changing = [f"{key}={info[key]}" for key in _CHANGING if info.get(key)]
    return " ".join([f"size={info.get('size')}", *changing]) if changing else ""


def is_there(edition: Edition, pull: Pull) -> bool:
    """Return whether the scan of a pull is there, on this machine or elsewhere."""
    if not is_address(pull.scan):
        return edition.scan_path(pull).is_file()
    try:
        files, path = _file_system(pull.scan)
        return bool(files.isfile(path))
    except (ScanError, *_FAULTS):
        return True  # fetching it will say what is wrong


def _fetch(address: str, path: Path) -> None:
    try:
        files, there = _file_system(address)
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_name(f".{path.name}.part")
        files.get_file(there, str(part))
        part.replace(path)
    except FileNotFoundError as error:
        raise ScanError(
            f"Scan {quoted(address)} is not there. Put it there, or mend its address in pulls.csv."
        ) from error
    except _FAULTS as error:
        why = " ".join(str(error).split())[:120] or type(error).__name__
        raise ScanError(
            f"Scan {quoted(address)} cannot be fetched ({why}). Check the address, your rights and the disk."
        ) from error


def _file_system(address: str):  # type: ignore[no-untyped-def]  # noqa: ANN202  fsspec has no hints
    """Return the file system of an address and the path in it."""
    try:
        from fsspec.core import url_to_fs  # noqa: PLC0415  an optional dependency

        return url_to_fs(address)
    except ImportError as error:
        raise ScanError(
            f"Scan {quoted(address)} needs a Python package that is not installed ({error}). "
            "Install it (proofkit[cluster] brings fsspec), or copy the scan into scans."
        ) from error
