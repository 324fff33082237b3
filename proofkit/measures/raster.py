"""A region's own pixels in the frame of the plate."""

from typing import NamedTuple

import cv2
import numpy as np
from shapely.geometry import Polygon

from proofkit.arrays import FULL_SCALE, Mask, Picture, Plane
from proofkit.laying.rectify import Box, averaged_tiles, box_nodes, spread
from proofkit.laying.types import Laying, to_sheet_px
from proofkit.measures.code_kernels import code_cells
from proofkit.reflectance import paper_level
from proofkit.reflectance.types import Paper
from proofkit.scan.types import Scan


def region_box(outline_mm: Polygon, pitch_mm: float) -> Box:
    """Return the box of cells that covers an outline."""
    x0, y0, x1, y1 = outline_mm.bounds
    columns = max(int(np.ceil((x1 - x0) / pitch_mm)), 1)
    rows = max(int(np.ceil((y1 - y0) / pitch_mm)), 1)
    return Box(x0 + pitch_mm / 2, y0 + pitch_mm / 2, columns, rows, pitch_mm)


def inside_mask(outline_mm: Polygon, box: Box) -> Mask:
    """Return which cells of a box have their centre inside an outline."""
    mask = np.zeros((box.rows, box.columns), dtype=np.uint8)
    sixteenths = 16.0 / box.pitch_mm

    def ring(points: object) -> np.ndarray:
        xy = (np.asarray(points, dtype=np.float64) - (box.x0_mm, box.y0_mm)) * sixteenths
        return np.rint(xy).astype(np.int32)

    cv2.fillPoly(mask, [ring(outline_mm.exterior.coords)], 1, lineType=cv2.LINE_8, shift=4)
    for hole in outline_mm.interiors:
        cv2.fillPoly(mask, [ring(hole.coords)], 0, lineType=cv2.LINE_8, shift=4)
    return mask.astype(np.bool_)


class CodedCells(NamedTuple):
    """R/Rp of the cells of a box as whole numbers."""

    codes: Plane
    """(rows, columns) R/Rp in steps of `unit`; 0 outside the scan."""
    unit: float
    """R/Rp of one code: what the darkest paper of the box makes of the scan's own, so that nothing is lost. [-]"""


def code_box(scan: Scan, paper: Paper, laying: Laying, box: Box) -> CodedCells:
    """Return R/Rp of the scan pixel nearest to each cell; nothing is interpolated."""
    nodes, rows, columns = box_nodes(box)
    px = to_sheet_px(laying, nodes)
    x, y, level = (
        np.ascontiguousarray(of_nodes, dtype=np.float64).reshape(rows, columns)
        for of_nodes in (px[:, 0], px[:, 1], paper_level(paper, px[:, 0], px[:, 1]))
    )
    codes = np.empty((box.rows, box.columns), dtype=np.uint16)
    darkest = float(level.min())
    code_cells(np.ascontiguousarray(scan.plane), x, y, darkest / level, codes)
    return CodedCells(codes, 1 / (FULL_SCALE * darkest))


def reflectance_cells(scan: Scan, paper: Paper, laying: Laying, box: Box) -> Picture:
    """Return R/Rp of the scan pixel nearest to each cell; NaN outside the scan. Nothing is interpolated."""
    return reflectances(code_box(scan, paper, laying, box))


def reflectances(cells: CodedCells) -> Picture:
    """Return R/Rp of coded cells; NaN where they are not known. (rows, columns) [-]"""
    picture = cells.codes * np.float32(cells.unit)
    picture[cells.codes == 0] = np.nan
    return np.asarray(picture, dtype=np.float32)


def reflectance_picture(scan: Scan, paper: Paper, laying: Laying, box: Box) -> Picture:
    """Return R/Rp averaged over each cell of a coarse box; NaN outside the scan."""
    picture = np.empty((box.rows, box.columns), dtype=np.float32)
    for tile in averaged_tiles(scan.levels, laying, box):
        rows, columns = tile.light.shape
        level = paper_level(paper, tile.nodes_px[..., 0], tile.nodes_px[..., 1])
        picture[tile.cells] = tile.light / spread(level, Box(0.0, 0.0, columns, rows, box.pitch_mm))
    return picture
