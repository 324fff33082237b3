"""Any part of a sheet at any scale, from the level of its pyramid that fits."""

import numpy as np

from proofkit.arrays import FULL_SCALE, Floats, Picture
from proofkit.laying.rectify import Box, box_nodes
from proofkit.laying.rectify_kernels import NODE_PX
from proofkit.laying.types import to_sheet_px
from proofkit.looking.kernels import look_cells
from proofkit.looking.sights import Sight
from proofkit.pyramid.file import level_for, read_part
from proofkit.reflectance import paper_level

MOST_PX = 12_000_000
"""Largest picture that is made for looking: a screen of 4K and half as much again. [px]"""

_ROOM_PX = 2
"""Pixels read beyond a part, for interpolation. [px of the level]"""


def view_box(box_mm: tuple[float, float, float, float], px_per_mm: float) -> Box:
    """Return the cells of a view: pixels of `px_per_mm` whose outer edges are those of the box.

    >>> view_box((0.0, 0.0, 10.0, 5.0), 2.0)
    Box(x0_mm=0.25, y0_mm=0.25, columns=20, rows=10, pitch_mm=0.5)
    """
    x0, y0, x1, y1 = box_mm
    columns = max(round((x1 - x0) * px_per_mm), 1)
    rows = max(round((y1 - y0) * px_per_mm), 1)
    pitch = 1 / px_per_mm
    return Box(x0 + pitch / 2, y0 + pitch / 2, columns, rows, pitch)


def look(sight: Sight, box_mm: tuple[float, float, float, float], px_per_mm: float) -> Picture:
    """Return a part of a sheet in its millimetres, for looking; measures read the scan itself.

    Parameters
    ----------
    sight : Sight
    box_mm : tuple
        x0, y0, x1, y1. [mm]
    px_per_mm : float
        Resolution of the picture; made coarser when it would have more than `MOST_PX` pixels.

    Returns
    -------
    Picture
        (rows, columns) linear reflectance against bare paper; NaN outside the scan.

    Raises
    ------
    ScanError
        If the pyramid is gone.
    """
    area = (box_mm[2] - box_mm[0]) * (box_mm[3] - box_mm[1]) * px_per_mm**2
    box = view_box(box_mm, px_per_mm / max(1.0, float(np.sqrt(area / MOST_PX))))
    nodes = _nodes(sight, box)
    level = level_for(sight.pyramid, sight.scan_px_per_mm * box.pitch_mm)
    room = _ROOM_PX << level
    low, high = nodes[:, :, :2].min(axis=(0, 1)) - room, nodes[:, :, :2].max(axis=(0, 1)) + room
    picture = np.full((box.rows, box.columns), np.nan, dtype=np.float32)
    part = read_part(sight.pyramid, (low[0], low[1], high[0], high[1]), level)
    if part is not None:
        start = (part.left_px, part.top_px, float(part.step))
        limits = (sight.pyramid.width, sight.pyramid.height)
        look_cells(part.plane, start, nodes, NODE_PX, limits, picture)
    return picture


def _nodes(sight: Sight, box: Box) -> Floats:
    """Return scan x, scan y and paper level at the nodes of a box, (rows, columns, 3). [px, px, 1/65535]"""
    points, rows, columns = box_nodes(box)
    px = to_sheet_px(sight.laying, points)
    white = np.ones(len(px)) if sight.paper is None else paper_level(sight.paper, px[:, 0], px[:, 1])
    return np.column_stack((px, FULL_SCALE * white)).reshape(rows, columns, 3)
