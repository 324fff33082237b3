"""Turn the values of a measured sheet into what a database keeps, and back, without losing a bit."""

import io
import json
from dataclasses import fields
from typing import Any, TypeVar, cast

import numpy as np
import numpy.typing as npt

from proofkit.quality import Quality

Arrays = dict[str, npt.NDArray[Any]]
Kept = TypeVar("Kept")


def plain(value: object) -> object:
    """Return a value without numpy's types, tuples as lists.

    >>> plain((np.float64(0.1), np.bool_(True)))
    [0.1, True]
    """
    if isinstance(value, np.generic | np.ndarray):
        return value.tolist()
    if isinstance(value, tuple | list):
        return [plain(entry) for entry in value]
    if isinstance(value, dict):
        return {key: plain(entry) for key, entry in value.items()}
    return int(value) if isinstance(value, Quality) else value


def to_json(value: object) -> str:
    """Return JSON that reads back to the same float64; NaN and infinity are written as Python writes them."""
    return json.dumps(plain(value), ensure_ascii=False)


def split(record: object, prefix: str) -> tuple[dict[str, object], Arrays]:
    """Return the single values and the arrays of a dataclass, the arrays under ``prefix.field``."""
    scalars: dict[str, object] = {}
    arrays: Arrays = {}
    for field in fields(cast("Any", record)):
        value = getattr(record, field.name)
        if isinstance(value, np.ndarray):
            arrays[f"{prefix}.{field.name}"] = value
        else:
            scalars[field.name] = plain(value)
    return scalars, arrays


def join(kind: type[Kept], scalars: dict[str, object], arrays: Arrays, prefix: str) -> Kept:
    """Return the dataclass that `split` took apart."""
    values: dict[str, object] = {}
    for field in fields(cast("Any", kind)):
        key = f"{prefix}.{field.name}"
        if key not in arrays and field.name not in scalars:
            continue  # written before the field was: it has a default
        value = arrays[key] if key in arrays else scalars[field.name]
        if field.name == "quality":
            value = Quality(cast("int", value))
        values[field.name] = tuple(value) if isinstance(value, list) else value
    return kind(**values)


def to_bytes(arrays: Arrays) -> bytes:
    """Return arrays as a compressed npz archive."""
    file = io.BytesIO()
    np.savez_compressed(file, **cast("Any", arrays))
    return file.getvalue()


def from_bytes(content: bytes) -> Arrays:
    """Return the arrays of an npz archive; nothing in it is ever run."""
    with np.load(io.BytesIO(content), allow_pickle=False) as archive:
        return {name: archive[name] for name in archive.files}
