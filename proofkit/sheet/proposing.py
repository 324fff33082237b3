"""Propose regions from the standard: line fields by their density, textures, and open ground."""

import cv2
import numpy as np

from proofkit.arrays import Floats, Mask, Picture
from proofkit.folder.edition import Region, Work, rectangle
from proofkit.laying.rectify import plate_box
from proofkit.laying.standard_lines import StandardLines
from proofkit.laying.types import Laying
from proofkit.measures.ground import BEVEL_MM, lines_mask
from proofkit.measures.raster import reflectance_cells
from proofkit.reflectance.types import Paper
from proofkit.scan.types import Scan

CELL_MM = 1.0
"""Cells in which the plate is sorted. [mm]"""

LEAST_SIDES_MM = (4.0, 3.0, 2.0)
"""A region is at least this wide and high; the next where the plate has no room for one, as a very small plate. [mm]"""

MOST_OF_A_KIND = 3

LINE_CLASSES = ((0.8, 3.0), (3.0, 6.0), (6.0, 99.0))
"""Open, usual and dense line work, by length of line per area. [mm/mm²]"""

OPEN_LENGTH = 0.05
"""Open ground has less line than this. [mm/mm²]"""

TEXTURE_SPREAD = 0.06
"""Ground without lines that scatters more than this is texture, 1 - R/Rp. [-]"""


def propose_regions(
    scan: Scan, paper: Paper, laying: Laying, lines: StandardLines, plate_mm: tuple[float, float]
) -> tuple[Region, ...]:
    """Return regions for a plate that has none drawn: the largest rectangles of each kind of work.

    Parameters
    ----------
    scan, paper, laying
        The standard and how it lies on itself.
    lines : StandardLines
    plate_mm : tuple
        Width and height of the plate. [mm]
    """
    box = plate_box(*plate_mm, CELL_MM)
    shape = (box.rows, box.columns)
    length = _per_cell(lines, shape)
    length = cv2.blur(length, (3, 3))
    fine = plate_box(*plate_mm, CELL_MM / 8)
    picture = reflectance_cells(scan, paper, laying, fine)
    picture[lines_mask(lines, fine, 0.1)] = np.nan
    spread, mean = _texture(picture, shape)
    border = int(np.ceil(BEVEL_MM / CELL_MM))
    usable = np.zeros(shape, dtype=np.bool_)
    usable[border + 1 : -border - 1, border + 1 : -border - 1] = True
    quiet = usable & (length < OPEN_LENGTH) & np.isfinite(spread)
    fields: list[tuple[Work, Mask]] = [
        ("lines", usable & (length >= low) & (length < high)) for low, high in LINE_CLASSES
    ]
    fields.append(("tone", usable & (length < 1.0) & (spread > TEXTURE_SPREAD)))
    fields.append(("open", quiet & (spread < TEXTURE_SPREAD) & (mean > 0.5)))
    for side in LEAST_SIDES_MM:
        regions: list[Region] = []
        for work, cells in fields:
            regions += _largest(work, cells, sum(r.work == work for r in regions), side)
        if regions:
            return tuple(regions)
    return ()


def _per_cell(lines: StandardLines, shape: tuple[int, int]) -> np.ndarray:
    """Return length of line per area in each cell. [mm/mm²]"""
    x, y = lines.lines.points_mm.T if lines.lines.size else (np.empty(0), np.empty(0))
    column = np.clip(np.rint(x / CELL_MM).astype(np.intp), 0, shape[1] - 1)
    row = np.clip(np.rint(y / CELL_MM).astype(np.intp), 0, shape[0] - 1)
    total = np.bincount(row * shape[1] + column, weights=lines.lines.length_mm, minlength=shape[0] * shape[1])
    return (total.reshape(shape) / CELL_MM**2).astype(np.float32)


def _texture(picture: Picture, shape: tuple[int, int]) -> tuple[Floats, Floats]:
    """Return spread and mean in each cell of a finer picture of R/Rp, NaN on lines; NaN where too little is left."""
    known = np.isfinite(picture)
    value = np.where(known, picture, 0)

    def cell_sum(array: np.ndarray) -> Floats:
        small = cv2.resize(array.astype(np.float32), shape[::-1], interpolation=cv2.INTER_AREA)
        return np.asarray(cv2.blur(small, (3, 3)), dtype=np.float64)

    share = cell_sum(known)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = cell_sum(value) / share
        variance = cell_sum(value**2) / share - mean**2
    enough = share > 0.3
    return np.where(enough, np.sqrt(np.maximum(variance, 0)), np.nan), np.where(enough, mean, np.nan)


def _largest(work: Work, cells: Mask, before: int, side_mm: float) -> list[Region]:
    """Return up to three largest rectangles of cells of one kind that do not overlap, `side_mm` wide and high."""
    free = cells.copy()
    found: list[Region] = []
    while len(found) < MOST_OF_A_KIND:
        top, left, height, width = _largest_rectangle(free)
        if min(height, width) * CELL_MM < side_mm:
            break
        free[top : top + height, left : left + width] = False
        outline = rectangle(
            (left - 0.5) * CELL_MM, (top - 0.5) * CELL_MM,
            (left + width - 0.5) * CELL_MM, (top + height - 0.5) * CELL_MM,
        )  # fmt: skip
        found.append(Region(f"{work} {before + len(found) + 1}", work, outline, proposed=True))
    return found


def _largest_rectangle(cells: Mask) -> tuple[int, int, int, int]:
    """Return top, left, height and width of the largest upright rectangle of true cells.

    Row by row, with the heights of columns of true cells and a stack of rising heights.
    """
    best = (0, 0, 0, 0)
    heights = np.zeros(cells.shape[1], dtype=np.intp)
    for row in range(cells.shape[0]):
        heights = np.where(cells[row], heights + 1, 0)
        stack: list[tuple[int, int]] = []
        for column, tall in enumerate([*heights.tolist(), 0]):
            start = column
            while stack and stack[-1][1] >= tall:
                start, high = stack.pop()
                if high * (column - start) > best[2] * best[3]:
                    best = (row - high + 1, start, high, column - start)
            stack.append((start, tall))
    return best
