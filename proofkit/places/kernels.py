"""Compiled loops over the cells of many sheets."""

import numpy as np

from proofkit.arrays import Ink, Numbers, Picture
from proofkit.measures.fine_picture import NO_SHEET
from proofkit.scan.compiling import kernel
from proofkit.scatter import OF_MEDIAN

NONE = NO_SHEET

BESIDE = 128
"""Columns that are sorted side by side: those of a hundred sheets fit into a processor's own memory."""

FEWEST = 3
"""Sheets that tell a spread at the least."""

NOT_SHOWN = np.float32(np.inf)
"""Stands, above all that is known, for what a sheet does not show."""


@kernel
def median_codes(stack: Ink, middle: Ink, seen: Ink) -> None:
    """Write the median code of each cell over the sheets that show it, and how many do.

    `stack` (sheets, rows, columns); `middle`, `seen` (rows, columns). A cell that no sheet shows is `NO_SHEET`.
    """
    sheets, rows, columns = stack.shape
    counts = np.zeros(256, dtype=np.int32)
    for i in range(rows):
        for j in range(columns):
            known = 0
            for k in range(sheets):
                code = stack[k, i, j]
                if code != NONE:
                    counts[code] += 1
                    known += 1
            at = 0
            if known:
                half = (known + 1) // 2
                total = counts[0]
                while total < half:
                    at += 1
                    total += counts[at]
            middle[i, j] = at if known else NONE
            seen[i, j] = min(known, 255)
            for k in range(sheets):
                counts[stack[k, i, j]] = 0


@kernel
def centre_and_spread(stack: Picture, centre: Picture, spread: Picture) -> None:
    """Write median and scaled median absolute deviation of each cell over the sheets.

    `stack` (sheets, rows, columns), NaN = not shown; `centre`, `spread` (rows, columns), NaN with fewer than three
    values. The factor makes the deviation that of a normal distribution.
    """
    sheets, rows, columns = stack.shape
    values = np.empty((sheets, BESIDE), dtype=np.float32)
    known = np.empty(BESIDE, dtype=np.int32)
    low, high = np.empty(BESIDE, dtype=np.float32), np.empty(BESIDE, dtype=np.float32)
    half, factor = np.float32(0.5), np.float32(0.5 * OF_MEDIAN)
    for i in range(rows):
        for start in range(0, columns, BESIDE):
            wide = min(BESIDE, columns - start)
            known[:] = 0
            for k in range(sheets):
                line = stack[k, i, start : start + wide]
                for c in range(wide):
                    shown = not np.isnan(line[c])
                    known[c] += shown
                    values[k, c] = line[c] if shown else NOT_SHOWN
            _sort_down(values)
            _two_middle(values, known, low, high)
            for c in range(wide):
                centre[i, start + c] = half * (low[c] + high[c]) if known[c] >= FEWEST else np.nan
            for k in range(sheets):
                for c in range(wide):
                    values[k, c] = abs(values[k, c] - half * (low[c] + high[c]))
            _sort_down(values)
            _two_middle(values, known, low, high)
            for c in range(wide):
                spread[i, start + c] = factor * (low[c] + high[c]) if known[c] >= FEWEST else np.nan


@kernel
def _two_middle(values: Picture, known: Numbers, low: Picture, high: Picture) -> None:
    """Write the two middle ones of each column's first `known` values, which are the same where these are odd."""
    for c in range(known.size):
        low[c] = values[max(known[c] - 1, 0) // 2, c]
        high[c] = values[min(known[c] // 2, values.shape[0] - 1), c]


@kernel
def _sort_down(values: Picture) -> None:
    """Sort each column of (n, columns), all columns at once.

    Merge exchange: which values are compared does not depend on them (K. E. Batcher, Sorting networks and their
    applications, AFIPS Spring Joint Computer Conference 1968; from memory), so that columns go side by side.
    """
    n, columns = values.shape
    merged = 1
    while merged < n:
        apart = merged
        while apart:
            for first in range(apart % merged, n - apart, 2 * apart):
                for k in range(first, min(first + apart, n - apart)):
                    if k // (2 * merged) == (k + apart) // (2 * merged):
                        upper, lower = values[k], values[k + apart]
                        for c in range(columns):
                            one, other = upper[c], lower[c]
                            upper[c] = one if one < other else other
                            lower[c] = other if one < other else one
            apart //= 2
        merged *= 2
