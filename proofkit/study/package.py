"""Tables in an open packaging: CSV and Parquet with a data dictionary, after the Data Package standard.

A reader of the standard finds every table, the type of every column, its unit and what it means, in datapackage.json.
"""

import hashlib
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from proofkit import __version__
from proofkit.check.results import write_table
from proofkit.columns import Column
from proofkit.folder.writing import write_text

DESCRIPTOR_FILE = "datapackage.json"

_TYPES = {"text": "string", "number": "number", "flag": "boolean"}
_PANDAS = {"text": "str", "number": "float64", "flag": "bool"}


@dataclass(frozen=True, slots=True, eq=False)
class Resource:
    """One table of a package."""

    name: str
    """Lower case, without blanks: also the name of its files."""
    table: pd.DataFrame
    columns: tuple[Column, ...]
    description: str


def write_package(folder: Path, title: str, description: str, resources: Sequence[Resource]) -> list[Path]:
    """Write tables with their data dictionary.

    Raises
    ------
    FolderError
        If a file cannot be written.

    References
    ----------
    .. [1] Frictionless Data, Data Package and Tabular Data Package, version 1 (specs.frictionlessdata.io): required are
       `resources` with `name` and `path`, and for tabular ones `profile` and `schema` with `fields`.
    """
    written = []
    for resource in resources:
        written += write_table(folder, resource.name, _tidy(resource), resource.columns)
    text = json.dumps(_descriptor(folder, title, description, resources), indent=2, ensure_ascii=False)
    return [*written, write_text(folder / DESCRIPTOR_FILE, text + "\n")]


def _tidy(resource: Resource) -> pd.DataFrame:
    """Return the table with exactly its columns and their kinds."""
    kinds = {column.name: _PANDAS[column.kind] for column in resource.columns}
    return resource.table[list(kinds)].astype(kinds).reset_index(drop=True)


def _descriptor(
    folder: Path, title: str, description: str, resources: Sequence[Resource]
) -> Mapping[str, object]:
    return {
        "profile": "tabular-data-package",
        "name": "study",
        "title": title,
        "description": description,
        "version": "1.0.0",
        "sources": [{"title": f"proofkit {__version__}"}],
        "resources": [_resource(folder, resource) for resource in resources],
    }


def _resource(folder: Path, resource: Resource) -> Mapping[str, object]:
    raw = (folder / f"{resource.name}.csv").read_bytes()
    return {
        "profile": "tabular-data-resource",
        "name": resource.name,
        "path": f"{resource.name}.csv",
        "description": f"{resource.description} The same table is in {resource.name}.parquet.",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(raw),
        "hash": f"sha256:{hashlib.sha256(raw).hexdigest()}",
        "dialect": {
            "delimiter": ",",
            "lineTerminator": "\n",
            "quoteChar": '"',
            "doubleQuote": True,
            "header": True,
        },
        "schema": {"fields": [_field(column) for column in resource.columns], "missingValues": [""]},
    }


def _field(column: Column) -> Mapping[str, object]:
    """Return a field; the unit is a property of its own, as the standard lets publishers add some."""
    unit = {} if column.unit == "-" else {"unit": column.unit}
    return {"name": column.name, "type": _TYPES[column.kind], "description": column.meaning, **unit}


def shown(value: float, digits: int = 3) -> str:
    """Return a number with so many figures that count, `–` where there is none; a true minus sign.

    >>> shown(0.0123456), shown(-41.26), shown(float("nan"))
    ('0.0123', '−41.3', '–')
    """
    if not math.isfinite(value):
        return "∞" if value == math.inf else "–"
    if value == 0:
        return "0"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return f"{value:.{min(decimals, 12)}f}".replace("-", "−")


SMALLEST_CHANCE = 1e-4
"""Chances below it say nothing more about the world than that they are small. [-]"""


def chance(p: float) -> str:
    """Return a chance as text.

    >>> chance(0.0123), chance(1e-9)
    ('0.012', '< 0.0001')
    """
    return f"< {SMALLEST_CHANCE:.4f}" if p < SMALLEST_CHANCE else shown(p, 2)
