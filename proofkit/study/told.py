"""Effects as people read them: proportions as percent, everything else in the unit of its response."""

import math
from collections.abc import Mapping, Sequence

from proofkit.study.naming import response_unit

SIZES = ("estimate", "low", "high", "over_range", "detectable")
"""Columns of the table `effects` that are in the unit of the response."""


def number_of(row: Mapping[str, object], name: str) -> float:
    """Return a cell as a number, NaN where it holds none.

    >>> number_of({"low": 0.5, "remark": "few units"}, "low")
    0.5
    """
    value = row[name]
    return float(value) if isinstance(value, int | float) else math.nan


def effect_as_told(row: Mapping[str, object], relative: Sequence[str]) -> dict[str, object]:
    """Return a row of the table `effects` with its `unit`, empty for none; shares become percent.

    Parameters
    ----------
    row : mapping
        Row of the table `effects`.
    relative : sequence of str
        Responses whose effects are proportions.
    """
    response = str(row["response"])
    if response not in relative:
        return {**row, "unit": response_unit(response)}
    return {**row, **{name: 100.0 * number_of(row, name) for name in SIZES}, "unit": "%"}
