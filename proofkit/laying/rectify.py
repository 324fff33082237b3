"""Pictures of a sheet in the plate frame, for matching and for looking; measures read the sheet's own pixels."""

from dataclasses import dataclass

import cv2
import numpy as np

from proofkit.arrays import FULL_SCALE, Floats, Picture, Plane, Points
from proofkit.laying.types import Laying, to_sheet_px

NODE_PX = 24
"""Distance of the nodes at which the map is worked out exactly; between them it is linear. The warp bends less
than 0.1 mm in 10 mm, so over 24 px of 0.05 mm the error is under 1 µm. [px]"""


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle of the plate cut into square cells."""

    x0_mm: float
    """Plate x of the centre of the first cell. [mm]"""
    y0_mm: float
    columns: int
    rows: int
    pitch_mm: float
    """Side of a cell. [mm]"""


def plate_box(width_mm: float, height_mm: float, pitch_mm: float, border_mm: float = 0.0) -> Box:
    """Return the box that covers a plate and `border_mm` around it."""
    columns = int(np.ceil((width_mm + 2 * border_mm) / pitch_mm)) + 1
    rows = int(np.ceil((height_mm + 2 * border_mm) / pitch_mm)) + 1
    return Box(-border_mm, -border_mm, columns, rows, pitch_mm)


def box_nodes(box: Box) -> tuple[Points, int, int]:
    """Return plate points of the nodes of a box, and their rows and columns."""
    columns = -(-box.columns // NODE_PX) + 1
    rows = -(-box.rows // NODE_PX) + 1
    x = box.x0_mm + np.arange(columns) * NODE_PX * box.pitch_mm
    y = box.y0_mm + np.arange(rows) * NODE_PX * box.pitch_mm
    gx, gy = np.meshgrid(x, y)
    return np.column_stack((gx.ravel(), gy.ravel())), rows, columns


def sheet_maps(laying: Laying, box: Box) -> tuple[Picture, Picture]:
    """Return sheet x and y of every cell of a box, (rows, columns) each. [px]"""
    nodes, rows, columns = box_nodes(box)
    px = to_sheet_px(laying, nodes)
    return spread(px[:, 0].reshape(rows, columns), box), spread(px[:, 1].reshape(rows, columns), box)


def spread(values: Floats, box: Box) -> Picture:
    """Return node values spread linearly over the cells of a box, exactly."""
    u = np.arange(box.columns) / NODE_PX
    v = np.arange(box.rows) / NODE_PX
    i = np.minimum(u.astype(np.intp), values.shape[1] - 2)
    j = np.minimum(v.astype(np.intp), values.shape[0] - 2)
    a = (u - i)[None, :]
    across = values[:, i] * (1 - a) + values[:, i + 1] * a
    b = (v - j)[:, None]
    return np.asarray((across[j] * (1 - b) + across[j + 1] * b), dtype=np.float32)


def rectify(plane: Plane, laying: Laying, box: Box, *, nearest: bool = False) -> Picture:
    """Return linear luminance of a sheet on the cells of a plate box; NaN outside the scan.

    Parameters
    ----------
    plane : Plane
        (h, w) linear luminance of the sheet. [1/65535]
    laying : Laying
    box : Box
    nearest : bool, default False
        Take the nearest pixel as it is (for statistics of pixels) instead of interpolating (for pictures).

    Returns
    -------
    Picture
        (rows, columns) linear luminance, the scanner's white = 1.
    """
    map_x, map_y = sheet_maps(laying, box)
    h, w = plane.shape
    outside = (map_x < -0.5) | (map_y < -0.5) | (map_x > w - 0.5) | (map_y > h - 0.5)
    flags = cv2.INTER_NEAREST if nearest else cv2.INTER_LINEAR
    picture = cv2.remap(plane, map_x, map_y, flags, borderMode=cv2.BORDER_REPLICATE).astype(np.float32)
    picture /= np.float32(FULL_SCALE)
    picture[outside] = np.nan
    return np.asarray(picture)


def reduced(plane: Plane, factor: int) -> Plane:
    """Return block means of a plane over about `factor` px, blurred so that finer hatching leaves no moiré."""
    if factor <= 1:
        return plane
    h, w = plane.shape
    small = cv2.resize(plane, (max(w // factor, 1), max(h // factor, 1)), interpolation=cv2.INTER_AREA)
    return np.asarray(small, dtype=np.uint16)


def rectify_coarse(plane: Plane, laying: Laying, box: Box) -> Picture:
    """Return the plate's picture at a pitch much coarser than the scan, averaged before it is sampled.

    The plane is first reduced to about half the pitch and blurred by half a cell, so that what the cells cannot
    hold (hatching finer than two cells) averages to its tone instead of making false bands.
    """
    per_mm = float(np.sqrt(abs(np.linalg.det(laying.affine[:, :2]))))
    factor = max(int(box.pitch_mm * per_mm / 2.0), 1)
    small = reduced(plane, factor)
    fx = plane.shape[1] / small.shape[1]
    fy = plane.shape[0] / small.shape[0]
    sigma = 0.5 * box.pitch_mm * per_mm / fx
    blurred = cv2.GaussianBlur(small, (0, 0), sigma) if sigma > 0.3 else small
    map_x, map_y = sheet_maps(laying, box)
    h, w = small.shape
    map_x, map_y = (map_x + 0.5) / fx - 0.5, (map_y + 0.5) / fy - 0.5
    outside = (map_x < -0.5) | (map_y < -0.5) | (map_x > w - 0.5) | (map_y > h - 0.5)
    picture = cv2.remap(blurred, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    result = picture.astype(np.float32) / np.float32(FULL_SCALE)
    result[outside] = np.nan
    return np.asarray(result)
