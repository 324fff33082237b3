"""Compiled sums along the courses on which film may begin."""

import numpy as np

from proofkit.arrays import Floats, Numbers
from proofkit.scan.compiling import kernel


@kernel
def sums_along(table: Floats, offsets: Numbers, first: int, last: int) -> Floats:
    """Return the sums over the rows of a table (n, m), each row read at its own offset: (courses, last - first).

    Parameters
    ----------
    table : (n, m)
    offsets : (courses, n) int
        How far to the right each row is read on each course. [columns]
    first, last : int
        Columns that are asked for, the last not included; beyond the table its border goes on.
    """
    n, m = table.shape
    out = np.zeros((offsets.shape[0], last - first))
    for course in range(offsets.shape[0]):
        for row in range(n):
            off = offsets[course, row]
            for column in range(first, last):
                out[course, column - first] += table[row, min(max(column + off, 0), m - 1)]
    return out
