"""A plane and its means over blocks of 2, 4, 8 ... px.

Pictures coarser than the scan are read from the level that is about as coarse, not from every pixel anew.
"""

from typing import TypeAlias

import numpy as np

from proofkit.arrays import Plane
from proofkit.scan.compiling import kernel

Levels: TypeAlias = tuple[Plane, ...]
"""Level k holds means over blocks of ``2**k`` px from the first pixel on; level 0 is the plane itself."""

SMALLEST = 32
"""The shorter side of a level is no shorter. [blocks]"""


def levels_of(plane: Plane) -> Levels:
    """Return a plane (h, w) and its reductions; all but the plane itself take a third of its memory.

    Notes
    -----
    A mean of four is rounded to the nearest unit, upward from half: at most 1/65535 of the scanner's white from level
    to level.
    """
    levels = [np.ascontiguousarray(plane)]
    while min(levels[-1].shape) >= 2 * SMALLEST:
        levels.append(halved(levels[-1]))
    return tuple(levels)


@kernel
def halved(plane: Plane) -> Plane:
    """Return means over blocks of 2 x 2; an odd last row or column is left out."""
    two = np.uint32(2)
    out = np.empty((plane.shape[0] // 2, plane.shape[1] // 2), dtype=np.uint16)
    for r in range(out.shape[0]):
        upper, lower, row = plane[2 * r], plane[2 * r + 1], out[r]
        for c in range(out.shape[1]):
            left = np.uint32(upper[2 * c]) + np.uint32(lower[2 * c])
            right = np.uint32(upper[2 * c + 1]) + np.uint32(lower[2 * c + 1])
            row[c] = (left + right + two) >> two
    return out
