"""A region's own pixels in the frame of the plate."""

import cv2
import numpy as np
from shapely.geometry import Polygon

from proofkit.arrays import FULL_SCALE, Floats, Mask, Picture
from proofkit.laying.rectify import Box, box_nodes, rectify_coarse, spread
from proofkit.laying.rectify_kernels import nearest_and_mean, nearest_cells
from proofkit.laying.types import Laying, to_sheet_px
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


def paper_of(paper: Paper, laying: Laying, box: Box) -> Picture:
    """Return the level of bare paper under the cells of a box, the scanner's white = 1."""
    nodes, rows, columns = box_nodes(box)
    px = to_sheet_px(laying, nodes)
    return spread(paper_level(paper, px[:, 0], px[:, 1]).reshape(rows, columns), box)


def reflectance_cells(scan: Scan, paper: Paper, laying: Laying, box: Box) -> Picture:
    """Return R/Rp of the scan pixel nearest to each cell; NaN outside the scan. Nothing is interpolated."""
    picture = np.empty((box.rows, box.columns), dtype=np.float32)
    nearest_cells(scan.plane, *_nodes(paper, laying, box), picture)
    return picture


def region_cells(scan: Scan, paper: Paper, laying: Laying, box: Box, inside: Mask) -> tuple[Picture, float]:
    """Return what `reflectance_cells` does, and the mean of R/Rp over the cells `inside`, read linearly between pixels.

    Of the nearest pixels some are taken twice and some not at all, as the sheet happens to lie: over 3 mm of lines
    a millimetre apart that moves the mean by up to 0.003 (drawn patches), linear reading by 0.0001. NaN where nothing
    lies on the scan.
    """
    picture = np.empty((box.rows, box.columns), dtype=np.float32)
    mean = nearest_and_mean(scan.plane, *_nodes(paper, laying, box), inside, picture)
    return picture, float(mean)


def _nodes(paper: Paper, laying: Laying, box: Box) -> tuple[Floats, Floats, Floats]:
    """Return x and y in the scan and the level of paper at the nodes of a box, (rows, columns) each. [px], [-]"""
    nodes, rows, columns = box_nodes(box)
    px = to_sheet_px(laying, nodes)
    x, y, level = (
        np.ascontiguousarray(of_nodes, dtype=np.float64).reshape(rows, columns)
        for of_nodes in (px[:, 0], px[:, 1], paper_level(paper, px[:, 0], px[:, 1]))
    )
    return x, y, level


def reflectance_picture(scan: Scan, paper: Paper, laying: Laying, box: Box) -> Picture:
    """Return R/Rp averaged over each cell of a coarse box; NaN outside the scan."""
    picture = rectify_coarse(scan.levels, laying, box)
    picture /= paper_of(paper, laying, box)
    return picture


def saturated_share(scan: Scan, picture: Picture, paper: Paper) -> float:
    """Return the share of cells at the white end of the scanner's range."""
    white = scan.plane.dtype.type(FULL_SCALE) / np.float32(FULL_SCALE) / np.float32(paper.luminance)
    return float(np.mean(picture >= 0.999 * white))
