"""A picture of a sheet at the scale of its lines, in the frame of the plate: what places are looked for in."""

import cv2
import numpy as np

from proofkit.arrays import FULL_SCALE, INK_SCALE, INK_ZERO, Floats, Ink, Picture
from proofkit.laying.rectify import NODE_PX, Box, plate_box, reduced, sheet_maps
from proofkit.laying.types import Laying
from proofkit.measures.raster import paper_of
from proofkit.reflectance.types import Paper
from proofkit.scan.types import Scan

FINE_PITCH_MM = 0.125
"""Cell of the fine picture: a mark of 0.3 mm covers four of them and more; a square metre of plate is 64 MB. [mm]"""

BLUR_CELLS = 0.55
"""Standard deviation of the averaging: hatching finer than two cells, which the cells cannot hold, is then at most
a seventh of itself. [cells]"""

BAND_ROWS = 16 * NODE_PX
"""Rows of cells made at a time, so that no sheet is held in float; a whole number of nodes of the map."""

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
    for top in range(0, box.rows, BAND_ROWS):
        rows = min(BAND_ROWS, box.rows - top)
        band = Box(box.x0_mm, box.y0_mm + top * box.pitch_mm, box.columns, rows, box.pitch_mm)
        result[top : top + rows] = _band(scan, paper, laying, band)
    return result


def _band(scan: Scan, paper: Paper, laying: Laying, band: Box) -> Ink:
    map_x, map_y = sheet_maps(laying, band)
    height, width = scan.plane.shape
    outside = (map_x < -0.5) | (map_y < -0.5) | (map_x > width - 0.5) | (map_y > height - 0.5)
    cell_px = band.pitch_mm * float(np.sqrt(abs(np.linalg.det(laying.affine[:, :2]))))
    halo = int(np.ceil(4 * cell_px)) + 2
    x0, x1 = _reach(map_x, width, halo)
    y0, y1 = _reach(map_y, height, halo)
    if x1 - x0 < 2 or y1 - y0 < 2:
        return np.full(map_x.shape, NO_SHEET, dtype=np.uint8)
    part = scan.plane[y0:y1, x0:x1]
    small = reduced(part, max(int(cell_px / 2), 1))
    fx, fy = part.shape[1] / small.shape[1], part.shape[0] / small.shape[0]
    blurred = cv2.GaussianBlur(small, (0, 0), BLUR_CELLS * cell_px / fx)
    at_x, at_y = (map_x - x0 + 0.5) / fx - 0.5, (map_y - y0 + 0.5) / fy - 0.5
    light = cv2.remap(blurred, at_x, at_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    share = light.astype(np.float32) / (np.float32(FULL_SCALE) * paper_of(paper, laying, band))
    codes = np.clip(np.rint(INK_ZERO + INK_SCALE * (1 - share)), 0, NO_SHEET - 1)
    codes[outside] = NO_SHEET
    return np.asarray(codes, dtype=np.uint8)


def _reach(at: Picture, size: int, halo: int) -> tuple[int, int]:
    """Return first and last pixel that a band reads."""
    return max(int(at.min()) - halo, 0), min(int(at.max()) + halo + 1, size)


def ink_of(codes: Ink) -> Floats:
    """Return ink of codes, NaN where there is no sheet.

    >>> ink_of(np.array([30, 130, 255], dtype=np.uint8)).tolist()
    [0.0, 0.5, nan]
    """
    return np.where(codes == NO_SHEET, np.nan, (codes.astype(np.float64) - INK_ZERO) / INK_SCALE)
