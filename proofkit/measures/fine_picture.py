"""A picture of a sheet at the scale of its lines, in the frame of the plate: what places are looked for in."""

import numpy as np

from proofkit.arrays import INK_SCALE, INK_ZERO, Floats, Ink, Picture
from proofkit.laying.rectify import Box, averaged_tiles, plate_box
from proofkit.laying.rectify_kernels import NODE_PX
from proofkit.laying.types import Laying
from proofkit.reflectance import paper_level
from proofkit.reflectance.types import Paper
from proofkit.scan.compiling import kernel
from proofkit.scan.types import Scan

FINE_PITCH_MM = 0.125
"""Cell of the fine picture: a mark of 0.3 mm covers four of them and more; a square metre of plate is 64 MB. [mm]"""

BLUR_CELLS = 0.55
"""Standard deviation of the averaging: hatching finer than two cells, which the cells cannot hold, is then at most
a seventh of itself. [cells]"""

BLOCKS_CELLS = 0.7
"""Largest pixels that are averaged. Larger than half a cell they let more of hatching pass that repeats every 1.2 of
them: 0.19 instead of 0.01, which a scan's own blur of 0.018 mm halves at 0.1 mm. [cells]"""

NO_SHEET = 255
"""Code of a cell that the scan does not show."""


def fine_box(width_mm: float, height_mm: float) -> Box:
    """Return the cells of the fine picture of a plate."""
    return plate_box(width_mm, height_mm, FINE_PITCH_MM)


def fine_picture(scan: Scan, paper: Paper, laying: Laying, size_mm: tuple[float, float]) -> Ink:
    """Return ink averaged over the cells of `fine_box`, as bytes.

    Parameters
    ----------
    scan, paper, laying
        The sheet and how it lies on the standard.
    size_mm : tuple of float
        Width and height of the plate. [mm]

    Returns
    -------
    Ink
        (rows, columns) of 1 - R/Rp, coded as `encode_ink` does; `NO_SHEET` outside the scan.
    """
    box = fine_box(*size_mm)
    result = np.empty((box.rows, box.columns), dtype=np.uint8)
    for tile in averaged_tiles(scan.levels, laying, box, BLUR_CELLS, BLOCKS_CELLS):
        level = paper_level(paper, tile.nodes_px[..., 0], tile.nodes_px[..., 1])
        _write_codes(tile.light, np.float32(1) / level.astype(np.float32), result[tile.cells])
    return result


@kernel
def _write_codes(light: Picture, gain: Picture, codes: Ink) -> None:
    """Write the codes of ink of cells from their light; where there is none, no sheet.

    `gain` (node rows, node columns) is one over the level of bare paper, linear between nodes.
    """
    bare, scale = np.float32(INK_ZERO + INK_SCALE), np.float32(INK_SCALE)
    none, most, half = np.float32(0), np.float32(NO_SHEET - 1), np.float32(0.5)
    for r in range(codes.shape[0]):
        j = min(r // NODE_PX, gain.shape[0] - 2)
        b = np.float32((r - j * NODE_PX) / NODE_PX)
        for i in range(gain.shape[1] - 1):
            before = gain[j, i] + b * (gain[j + 1, i] - gain[j, i])
            after = gain[j, i + 1] + b * (gain[j + 1, i + 1] - gain[j, i + 1])
            step = (after - before) / np.float32(NODE_PX)
            for c in range(i * NODE_PX, min((i + 1) * NODE_PX, codes.shape[1])):
                ink = bare - scale * light[r, c] * (before + np.float32(c - i * NODE_PX) * step)
                held = np.int32(min(max(ink, none), most) + half)
                codes[r, c] = np.uint8(NO_SHEET) if np.isnan(light[r, c]) else np.uint8(held)


def ink_of(codes: Ink) -> Floats:
    """Return ink of codes, NaN where there is no sheet.

    >>> ink_of(np.array([30, 130, 255], dtype=np.uint8)).tolist()
    [0.0, 0.5, nan]
    """
    return np.where(codes == NO_SHEET, np.nan, (codes.astype(np.float64) - INK_ZERO) / INK_SCALE)
