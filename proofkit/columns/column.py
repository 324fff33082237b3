"""What a column is, and tables made of columns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    import pandas as pd

Kind = Literal["text", "number", "flag"]

_EMPTY: dict[Kind, object] = {"text": "", "number": np.nan, "flag": False}
_DTYPES: dict[Kind, str] = {"text": "str", "number": "float64", "flag": "bool"}


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table."""

    name: str
    """Name in the table and in Python; the unit ends the name where there is one."""
    kind: Kind
    """`text`, `number` (float64, empty = not measurable) or `flag` (true/false)."""
    unit: str
    """Unit, `-` for none."""
    meaning: str
    """One line for a reader of the table."""


def numbers(*rows: tuple[str, str, str]) -> tuple[Column, ...]:
    """Return columns of numbers from name, unit and meaning."""
    return tuple(Column(name, "number", unit, meaning) for name, unit, meaning in rows)


def texts(*rows: tuple[str, str]) -> tuple[Column, ...]:
    """Return columns of texts from name and meaning."""
    return tuple(Column(name, "text", "-", meaning) for name, meaning in rows)


def names(columns: tuple[Column, ...]) -> list[str]:
    """Return the names of `columns` in order."""
    return [column.name for column in columns]


def make_table(rows: list[dict[str, object]], columns: tuple[Column, ...]) -> pd.DataFrame:
    """Return a table with exactly `columns`, in order and with their dtypes; what a row lacks is empty.

    Raises
    ------
    KeyError
        If a row has a key that is no column.
    """
    import pandas as pd  # noqa: PLC0415  65 MB, and a process that measures sheets makes no tables

    known = set(names(columns))
    for row in rows:
        if stray := set(row) - known:
            raise KeyError(f"not in the column registry: {', '.join(sorted(stray))}")
    data = {
        column.name: pd.Series(
            [row.get(column.name, _EMPTY[column.kind]) for row in rows], dtype=_DTYPES[column.kind]
        )
        for column in columns
    }
    return pd.DataFrame(data, columns=names(columns))
