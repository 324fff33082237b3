"""Pictures of a sheet's ink in the plate frame as bytes: what sheets are matched and compared by."""

from typing import NamedTuple

import numpy as np

from proofkit.arrays import Floats, Ink, Mask, Numbers, Plane
from proofkit.laying.ink_kernels import mark_beyond, read_windows, write_ink
from proofkit.laying.rectify import Box, parts_of
from proofkit.laying.rectify_kernels import NODE_PX
from proofkit.laying.types import Laying, to_sheet_px
from proofkit.scan.levels import Levels
from proofkit.threads import each_in_order

CELL_OF_LEVEL_PX = 1.13
"""A cell is read from the level in whose pixels its side is nearest to this, by ratio: from 0.8 to 1.6. Block mean,
softening and linear reading then average over a standard deviation of 0.4 to 0.7 cells, so that hatching finer
than two cells leaves no false bands. [px]"""


class LevelOfCells(NamedTuple):
    """The level that cells are read from, and where the scan ends on it."""

    plane: Plane
    factor: int
    """Pixels of the scan along a side of one of the level. [px]"""
    size: Floats
    """(2,) last place to the right and the lowest that lie on the scan. [px of the level]"""

    def places(self, px: Floats) -> tuple[Floats, Floats]:
        """Return x and y in the pixels of the level of places (..., 2) in the scan."""
        at = (px + 0.5) / self.factor - 0.5
        return np.ascontiguousarray(at[..., 0]), np.ascontiguousarray(at[..., 1])


def level_of_cells(levels: Levels, cell_px: float) -> LevelOfCells:
    """Return the level from which cells of so many px of the scan are read."""
    k = int(np.clip(np.rint(np.log2(cell_px / CELL_OF_LEVEL_PX)), 0, len(levels) - 1))
    h, w = levels[0].shape
    return LevelOfCells(levels[k], 1 << k, np.array([w, h]) / (1 << k) - 0.5)


def ink_cells(levels: Levels, laying: Laying, box: Box, paper: float) -> tuple[Ink, Mask]:
    """Return ink on the cells of a box as codes, bare paper where there is no sheet, and where that is.

    Parameters
    ----------
    levels : Levels
        Of the scan.
    laying : Laying
    box : Box
    paper : float
        Luminance of bare paper, the scanner's white = 1. [-]

    Returns
    -------
    Ink
        (rows, columns)
    Mask
        (rows, columns) outside the scan; (0, 0) when no cell is.
    """
    level = level_of_cells(levels, box.pitch_mm * laying.px_per_mm)
    ink = np.empty((box.rows, box.columns), dtype=np.uint8)
    parts = [(cells, *level.places(px)) for cells, px in parts_of(laying, box)]

    def made(part: tuple[tuple[slice, slice], Floats, Floats]) -> int:
        cells, x, y = part
        return write_ink(level.plane, x, y, level.size, paper, ink[cells])

    outside = np.zeros((0, 0), dtype=np.bool_)
    for (cells, x, y), lost in zip(parts, each_in_order(made, parts), strict=True):
        if lost and not outside.size:
            outside = np.zeros(ink.shape, dtype=np.bool_)
        if lost:
            mark_beyond(x, y, level.size, outside[cells])
    return ink, outside


def ink_windows(
    levels: Levels, laying: Laying, box: Box, paper: float, corners: Numbers, side: int, *, every: int = 1
) -> tuple[Ink, Floats]:
    """Return ink of square windows of a box as codes, and the share of each that lies outside the scan.

    Parameters
    ----------
    levels, laying, box, paper
        As for `ink_cells`; what the windows show is what it shows there, within the bend between nodes.
    corners : (n, 2) int
        Row and column of the first cell of each.
    side : int
        [cells]
    every : int, default 1
        Only every so manieth row is read.

    Returns
    -------
    Ink
        (n, side / every, side)
    Floats
        (n,) [-]
    """
    level = level_of_cells(levels, box.pitch_mm * laying.px_per_mm)
    rows = -(-side // every)
    steps = [np.arange(0, cells + NODE_PX - 1, NODE_PX) for cells in (rows, side)]
    down, right = np.meshgrid(every * steps[0], steps[1], indexing="ij")
    x_mm = box.x0_mm + (corners[:, 1, None, None] + right) * box.pitch_mm
    y_mm = box.y0_mm + (corners[:, 0, None, None] + down) * box.pitch_mm
    px = to_sheet_px(laying, np.column_stack((x_mm.ravel(), y_mm.ravel())))
    x, y = level.places(px.reshape(len(corners), *down.shape, 2))
    windows = np.empty((len(corners), rows, side), dtype=np.uint8)
    beyond = np.empty(len(corners))
    read_windows(level.plane, x, y, level.size, paper, windows, beyond)
    return windows, beyond


def windows_of(ink: Ink, outside: Mask, corners: Numbers, side: int) -> tuple[Ink, Floats]:
    """Return square windows of a picture from `ink_cells`, and the share of each that lies outside the scan.

    `corners` (n, 2) int are row and column of the first cell of each, `side` is in cells; returned are
    (n, side, side) and (n,).
    """
    windows, beyond = np.empty((len(corners), side, side), dtype=np.uint8), np.zeros(len(corners))
    for k, (top, left) in enumerate(corners):
        windows[k] = ink[top : top + side, left : left + side]
        if outside.size:
            beyond[k] = outside[top : top + side, left : left + side].mean()
    return windows, beyond
