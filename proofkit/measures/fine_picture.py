"""A picture of a sheet at the scale of its lines, in the frame of the plate: what places are looked for in."""

import numpy as np

from proofkit.arrays import INK_SCALE, INK_ZERO, Floats, Ink, Picture
from proofkit.laying.rectify import Box, averaged_tiles, plate_box
from proofkit.laying.types import Laying
from proofkit.measures.raster import paper_of
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
        rows, columns = tile.cells
        part = Box(
            box.x0_mm + columns.start * box.pitch_mm,
            box.y0_mm + rows.start * box.pitch_mm,
            columns.stop - columns.start,
            rows.stop - rows.start,
            box.pitch_mm,
        )
        _write_codes(tile.light, paper_of(paper, laying, part), result[tile.cells])
    return result


@kernel
def _write_codes(light: Picture, level: Picture, codes: Ink) -> None:
    """Write the codes of ink of cells from their light and that of bare paper; where there is no light, no sheet."""
    for r in range(codes.shape[0]):
        for c in range(codes.shape[1]):
            ink = np.float32(1) - light[r, c] / level[r, c]
            code = np.rint(np.float32(INK_ZERO) + np.float32(INK_SCALE) * ink)
            held = min(max(code, np.float32(0)), np.float32(NO_SHEET - 1))
            codes[r, c] = np.uint8(NO_SHEET) if np.isnan(ink) else np.uint8(held)


def ink_of(codes: Ink) -> Floats:
    """Return ink of codes, NaN where there is no sheet.

    >>> ink_of(np.array([30, 130, 255], dtype=np.uint8)).tolist()
    [0.0, 0.5, nan]
    """
    return np.where(codes == NO_SHEET, np.nan, (codes.astype(np.float64) - INK_ZERO) / INK_SCALE)
