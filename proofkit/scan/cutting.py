"""Keep a part of a scan, in the memory that the whole of it took."""

from dataclasses import replace

import numpy as np

from proofkit.arrays import Plane
from proofkit.scan.types import Scan

LEVELS_KEPT = 4
"""Blocks of the levels up to ``2**LEVELS_KEPT`` px lie in a part as they lay in the whole: coarser ones are not read
where millimetres count."""


def cut_out(scan: Scan, box_px: tuple[int, int, int, int]) -> tuple[Scan, tuple[int, int]]:
    """Return a part of a scan and where it begins; what lies outside is given back to the system.

    Parameters
    ----------
    scan : Scan
        Of no use any more afterwards, nor is any view of its plane: its rows are moved to the front of their memory.
    box_px : tuple of int
        ``(x0, y0, x1, y1)`` that is wanted, x1 and y1 not included. [px]

    Returns
    -------
    Scan, (x0, y0)
        The part begins at whole blocks of the overview and of the levels, so somewhat before the box. [px]
    """
    h, w = scan.plane.shape
    step = scan.overview_step
    every = int(np.lcm(step, 1 << LEVELS_KEPT))
    x0, y0 = (max(value, 0) // every * every for value in box_px[:2])
    x1, y1 = min(box_px[2], w), min(box_px[3], h)
    if x0 >= x1 or y0 >= y1:
        msg = f"a scan of {w} x {h} px has nothing in the box {box_px}"
        raise ValueError(msg)
    overview = scan.overview[y0 // step : -(-y1 // step), x0 // step : -(-x1 // step)].copy()
    return replace(scan, plane=_part(scan.plane, (x0, y0, x1, y1)), overview=overview), (x0, y0)


def _part(plane: Plane, box: tuple[int, int, int, int]) -> Plane:
    """Return a part of a plane, in its own memory where that is its own to give back."""
    x0, y0, x1, y1 = box
    rows, columns, width = y1 - y0, x1 - x0, plane.shape[1]
    if not (plane.flags.owndata and plane.flags.c_contiguous and plane.flags.writeable):
        return plane[y0:y1, x0:x1].copy()
    flat = plane.reshape(-1)
    for row in range(rows):
        begin = (y0 + row) * width + x0
        flat[row * columns : (row + 1) * columns] = flat[begin : begin + columns]
    del flat
    plane.resize((rows, columns), refcheck=False)  # the only other holder is the scan that was given
    return plane
