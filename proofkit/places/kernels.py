"""Compiled loops over the cells of many sheets."""

import numpy as np

from proofkit.arrays import Ink, Picture
from proofkit.measures.fine_picture import NO_SHEET
from proofkit.scan.compiling import kernel
from proofkit.scatter import OF_MEDIAN

NONE = NO_SHEET


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
    values = np.empty(sheets, dtype=np.float32)
    for i in range(rows):
        for j in range(columns):
            n = 0
            for k in range(sheets):
                value = stack[k, i, j]
                if not np.isnan(value):
                    values[n] = value
                    n += 1
            if n < 3:
                centre[i, j] = np.nan
                spread[i, j] = np.nan
                continue
            known = np.sort(values[:n])
            middle = np.float32(0.5) * (known[(n - 1) // 2] + known[n // 2])
            away = np.sort(np.abs(known - middle))
            centre[i, j] = middle
            spread[i, j] = np.float32(OF_MEDIAN) * np.float32(0.5) * (away[(n - 1) // 2] + away[n // 2])
