"""Tell whether a report was made from the very same numbers, words and program, so that it need not be made again."""

import hashlib
import struct
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import shapely
from shapely.geometry.base import BaseGeometry

import proofkit

MARK = b"<!-- made from %s -->\n"
"""Last line of a report."""

PROGRAM = (".py", ".j2", ".css", ".js", ".toml", ".csv")
"""Files of the package that a report is made by."""


def fingerprint(*values: object) -> str:
    """Return a digest of values, the same in every process, different for any other number or text.

    Numbers, texts, paths, tuples, dicts, dataclasses, arrays, tables and outlines are taken by their content; anything
    else is refused, so that nothing is overlooked in silence.

    >>> fingerprint(1.0, "a") == fingerprint(1.0, "a"), fingerprint(1.0) == fingerprint(1)
    (True, False)
    """
    digest = hashlib.sha256()
    for value in values:
        _add(digest, value)
    return digest.hexdigest()


def _add(digest: "hashlib._Hash", value: object) -> None:
    digest.update(type(value).__name__.encode())
    if isinstance(value, str | Path):
        text = str(value).encode("utf-8", "surrogatepass")
        digest.update(struct.pack("<q", len(text)) + text)
    elif value is None or isinstance(value, bool | int | Enum):
        digest.update(repr(value).encode())
    elif isinstance(value, float):
        digest.update(struct.pack("<d", value))
    elif isinstance(value, np.ndarray) and value.dtype != object:
        digest.update(f"{value.dtype.str}{value.shape}".encode() + np.ascontiguousarray(value).tobytes())
    elif isinstance(value, BaseGeometry):
        digest.update(shapely.to_wkb(value))
    elif isinstance(value, np.generic):
        _add(digest, value.item())
    else:
        for part in _parts(value):
            _add(digest, part)


def _parts(value: object) -> list[object]:
    """Return what a value consists of, its length first."""
    if isinstance(value, pd.DataFrame):
        columns = [value[name] for name in value.columns]
        arrays = [column.to_numpy() for column in columns]
        return [list(map(str, value.columns)), *(a.tolist() if a.dtype == object else a for a in arrays)]
    if isinstance(value, Mapping):
        return [len(value), *(part for pair in value.items() for part in pair)]
    if isinstance(value, tuple | list):
        return [len(value), *value]
    if isinstance(value, set | frozenset):
        return [len(value), *sorted(value, key=repr)]
    if is_dataclass(value) and not isinstance(value, type):
        return [getattr(value, entry.name) for entry in fields(value)]
    msg = f"there is no digest of a {type(value).__name__}"
    raise TypeError(msg)


@cache
def program_digest() -> str:
    """Return a digest of all files of the program that reports come from."""
    root = Path(proofkit.__file__).parent
    files = sorted(path for path in root.rglob("*") if path.suffix in PROGRAM)
    digest = hashlib.sha256()
    for path in files:
        digest.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


def is_made_from(report: Path, made_from: str) -> bool:
    """Return whether a report that is there says that it was made from this."""
    mark = MARK % made_from.encode()
    try:
        with report.open("rb") as file:
            file.seek(-len(mark), 2)
            return file.read() == mark
    except OSError:
        return False


def mark_made_from(report: Path, made_from: str) -> None:
    """Write at the end of a report what it was made from."""
    with report.open("ab") as file:
        file.write(MARK % made_from.encode())
