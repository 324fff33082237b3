"""Tone of the ground that lines leave free, cell by cell: what aquatint, foul bite and the burnisher change."""

from dataclasses import replace

import numpy as np

from proofkit.arrays import Floats, Mask, Picture
from proofkit.laying.rectify import Box
from proofkit.laying.standard_lines import StandardLines, part_of
from proofkit.measures.ground import lines_mask
from proofkit.measures.raster import reflectance_cells
from proofkit.measures.types import LaidSheet
from proofkit.states.lines import JoinedLines, part_of_lines
from proofkit.states.mesh import SHORT_MM

CELL_MM = 0.5
"""Side of a cell: some tens of grains of an aquatint lie in it. [mm]"""

FINE_PER_CELL = 10
"""Readings along the side of a cell: 0.05 mm apart, a pixel of a 500 ppi scan."""

BAND_CELLS = 64
"""Rows of cells that are read at a time: bounds memory on large plates."""

BEYOND_MM = 0.06
"""Ground this near to a line belongs to it: its blur, and what ink and laying move its edge. [mm]"""

BLURS = 2.5
"""... or this many standard deviations of the most blurred scan. [-]"""

EDGE_MM = 2.0
"""Ground this near to the plate mark is darkened by its bevel. [mm]"""

LEAST_OPEN = 0.15
"""A cell of which lines leave less than this free has no tone of its own. [-]"""

DARKEST = 1e-3
"""Light below this is no reading: 3 D. R/Rp [-]"""


def cell_box(size_mm: tuple[float, float]) -> Box:
    """Return the cells of a plate's tones; the first one's centre is half a cell from the top left corner."""
    columns, rows = (max(int(side / CELL_MM), 1) for side in size_mm)
    return Box(CELL_MM / 2, CELL_MM / 2, columns, rows, CELL_MM)


def read_tone(sheet: LaidSheet, joined: JoinedLines, blur_mm: float, size_mm: tuple[float, float]) -> Floats:
    """Return the density above bare paper of the ground between lines, in every cell of `cell_box`.

    Parameters
    ----------
    sheet : LaidSheet
    joined : JoinedLines
        Lines of both states: the same ground between strokes is read on every pull; a mesh is ground.
    blur_mm : float
        Of the most blurred pull on which lines were found. [mm]
    size_mm : tuple
        Width and height of the plate. [mm]

    Returns
    -------
    Floats
        (rows, columns) of light averaged over the free ground, as a densitometer sees it [D]; NaN where lines leave
        little free, near the plate mark and outside the scan.
    """
    box = cell_box(size_mm)
    lines = _strokes(joined)
    light = np.full((box.rows, box.columns), np.nan)
    beyond = max(BEYOND_MM, BLURS * blur_mm)
    pitch = CELL_MM / FINE_PER_CELL
    for top in range(0, box.rows, BAND_CELLS):
        rows = min(BAND_CELLS, box.rows - top)
        fine = Box(
            pitch / 2, top * CELL_MM + pitch / 2, box.columns * FINE_PER_CELL, rows * FINE_PER_CELL, pitch
        )
        picture = reflectance_cells(sheet.scan, sheet.paper, sheet.laying, fine)
        light[top : top + rows] = _means(picture, ~lines_mask(lines, fine, beyond))
    border = round(EDGE_MM / CELL_MM)
    inside = np.zeros(light.shape, dtype=np.bool_)
    inside[border:-border, border:-border] = True
    return np.where(inside, -np.log10(np.maximum(light, DARKEST)), np.nan)


def _strokes(joined: JoinedLines) -> StandardLines:
    """Return the lines that are strokes."""
    lines = joined.lines
    length = np.bincount(lines.lines.line, weights=lines.lines.length_mm)
    keep = ~joined.mesh & (length[lines.lines.line] >= SHORT_MM)
    return replace(
        lines,
        lines=part_of_lines(lines.lines, keep),
        spans=part_of(lines.places, keep).spans,
        across_mm=lines.across_mm[keep],
        clear=lines.clear[keep],
        apart_mm=lines.apart_mm[keep],
        load_um=lines.load_um[keep],
        spacing_mm=lines.spacing_mm[keep],
    )


def _means(picture: Picture, free: Mask) -> Floats:
    """Return means over the free part of blocks of `FINE_PER_CELL` squared; NaN where too little is free."""
    known = free & np.isfinite(picture)
    shape = (
        picture.shape[0] // FINE_PER_CELL,
        FINE_PER_CELL,
        picture.shape[1] // FINE_PER_CELL,
        FINE_PER_CELL,
    )
    count = known.reshape(shape).sum(axis=(1, 3))
    total = np.where(known, picture, 0).astype(np.float64).reshape(shape).sum(axis=(1, 3))
    enough = count >= LEAST_OPEN * FINE_PER_CELL**2
    return np.where(enough, total / np.maximum(count, 1), np.nan)
