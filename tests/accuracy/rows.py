"""Rows of the accuracy table: what was compared, how far off, and the bar."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt


@dataclass(frozen=True, slots=True)
class Row:
    """One line."""

    what: str
    value: float
    """What the bar is held against."""
    unit: str
    bar: float | None
    """None = for information."""
    side: Literal["<=", ">="]
    count: int
    detail: str = ""

    @property
    def holds(self) -> bool | None:
        """True when the bar is kept; None when there is no bar or nothing was compared."""
        if self.bar is None or self.count == 0:
            return None
        return self.value <= self.bar if self.side == "<=" else self.value >= self.bar


def errors_row(what: str, errors: npt.ArrayLike, unit: str, bar: float | None, scale: float = 1.0) -> Row:
    """Return a row for signed errors: the bar is held against what 95 % of them stay under."""
    values = np.asarray(errors, dtype=float) * scale
    values = values[np.isfinite(values)]
    if values.size == 0:
        return Row(what, float("nan"), unit, bar, "<=", 0)
    size = np.abs(values)
    detail = f"bias {np.mean(values):+.4g}, rms {np.sqrt(np.mean(values**2)):.3g}, worst {size.max():.3g}"
    return Row(what, float(np.percentile(size, 95)), unit, bar, "<=", int(values.size), detail)


def lines_of(rows: list[Row]) -> list[str]:
    """Return the table as text."""
    out = []
    for row in rows:
        mark = {True: "ok  ", False: "MISS", None: "    "}[row.holds]
        bar = "" if row.bar is None else f"{row.side} {row.bar:g} {row.unit}"
        out.append(
            f"{mark} {row.what:<58} {row.value:>9.4g} {row.unit:<5} {bar:<14} n={row.count:<5} {row.detail}"
        )
    return out
