"""Pictures of a sheet in the plate frame, for matching and for looking; measures read the sheet's own pixels."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

import cv2
import numpy as np

from proofkit.arrays import FULL_SCALE, Floats, Picture, Plane, Points
from proofkit.laying.rectify_kernels import NODE_PX, sample_cells
from proofkit.laying.types import Laying, to_sheet_px
from proofkit.scan.levels import Levels


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


def rectify(plane: Plane, laying: Laying, box: Box) -> Picture:
    """Return linear luminance of a sheet on the cells of a plate box; NaN outside the scan.

    Parameters
    ----------
    plane : Plane
        (h, w) linear luminance of the sheet. [1/65535]
    laying : Laying
    box : Box

    Returns
    -------
    Picture
        (rows, columns) linear luminance, the scanner's white = 1.
    """
    map_x, map_y = sheet_maps(laying, box)
    h, w = plane.shape
    outside = (map_x < -0.5) | (map_y < -0.5) | (map_x > w - 0.5) | (map_y > h - 0.5)
    light = cv2.remap(plane, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    picture = light.astype(np.float32) / np.float32(FULL_SCALE)
    picture[outside] = np.nan
    return np.asarray(picture)


def reduced(plane: Plane, factor: int) -> Plane:
    """Return block means of a plane over about `factor` px, blurred so that finer hatching leaves no moiré."""
    if factor <= 1:
        return plane
    h, w = plane.shape
    small = cv2.resize(plane, (max(w // factor, 1), max(h // factor, 1)), interpolation=cv2.INTER_AREA)
    return np.asarray(small, dtype=np.uint16)


TILE_NODES = 10, 20
"""Rows and columns of nodes in which pictures are made, so that no sheet is blurred or held in float as a whole."""

HALF_CELL = 0.5
"""Standard deviation of the averaging before cells are sampled, and largest pixels that are averaged. [cells]"""

Cells: TypeAlias = tuple[slice, slice]
"""Rows and columns of a part of a picture."""


@dataclass(frozen=True, slots=True, eq=False)
class Tile:
    """A part of a picture on the cells of a box."""

    cells: Cells
    light: Picture
    """Linear luminance, the scanner's white = 1; NaN outside the scan."""
    nodes_px: Floats
    """(node rows, node columns, 2) places of its nodes in the scan. [px]"""


def averaged_tiles(
    levels: Levels, laying: Laying, box: Box, blur_cells: float = HALF_CELL, blocks: float = HALF_CELL
) -> Iterator[Tile]:
    """Give the picture of a sheet on the cells of a plate box tile by tile, averaged before it is sampled.

    Parameters
    ----------
    levels : Levels
        Of the scan's linear luminance. [1/65535]
    laying : Laying
    box : Box
    blur_cells : float, default HALF_CELL
        Standard deviation of the averaging. [cells]
    blocks : float, default HALF_CELL
        Pixels of the level that is read are no larger than this, but for those of the scan itself. [cells]

    Notes
    -----
    A level is blurred, so that what the cells cannot hold (hatching finer than two cells) averages to its tone instead
    of making false bands; altogether as much as if its pixels were half a cell. Blocks of a level lie on the scan the
    same way for every tile.
    """
    cell_px = box.pitch_mm * laying.px_per_mm
    half = max(int(cell_px / 2.0), 1)
    k = min(max(int(blocks * cell_px), 1).bit_length() - 1, len(levels) - 1)
    variance = (blur_cells * cell_px) ** 2 + _averaging(half) - _averaging(1 << k)
    sigma = float(np.sqrt(max(variance, 0.0))) / (1 << k)
    for cells, px in parts_of(laying, box):
        yield Tile(cells, _averaged(levels, k, px, _shape(cells), sigma), px)


def _averaging(factor: int) -> float:
    """Return the variance of means over `factor` px and of linear reading between them, on average. [px²]"""
    return (factor**2 - 1) / 12 + factor**2 / 6


def _shape(cells: Cells) -> tuple[int, int]:
    rows, columns = cells
    return rows.stop - rows.start, columns.stop - columns.start


def parts_of(laying: Laying, box: Box) -> Iterator[tuple[Cells, Floats]]:
    """Give the parts of a box that are made as tiles: cells, and (rows, columns, 2) places of their nodes. [px]"""
    nodes, node_rows, node_columns = box_nodes(box)
    px = to_sheet_px(laying, nodes).reshape(node_rows, node_columns, 2)
    for j in range(0, node_rows - 1, TILE_NODES[0]):
        rows = slice(j * NODE_PX, min((j + TILE_NODES[0]) * NODE_PX, box.rows))
        for i in range(0, node_columns - 1, TILE_NODES[1]):
            columns = slice(i * NODE_PX, min((i + TILE_NODES[1]) * NODE_PX, box.columns))
            yield (rows, columns), px[j : j + TILE_NODES[0] + 1, i : i + TILE_NODES[1] + 1]


def _averaged(levels: Levels, k: int, px: Floats, shape: tuple[int, int], sigma: float) -> Picture:
    """Return the light of cells between nodes at `px` (rows, columns, 2); level `k` is blurred by `sigma` of its px."""
    light = np.full(shape, np.nan, dtype=np.float32)
    level, factor = levels[k], 1 << k
    halo = int(np.ceil(4 * sigma)) + 2
    at = (px + 0.5) / factor - 0.5
    low, high = at.min(axis=(0, 1)) - halo, at.max(axis=(0, 1)) + halo + 1
    x0, y0 = (max(int(value), 0) for value in low)
    x1, y1 = (min(int(np.ceil(value)), side) for value, side in zip(high, level.shape[::-1], strict=True))
    if x1 - x0 < 2 or y1 - y0 < 2:
        return light
    # Floats are blurred in two thirds of the time of whole numbers, and stay unrounded.
    part = level[y0:y1, x0:x1].astype(np.float32)
    soft = cv2.GaussianBlur(part, (0, 0), sigma) if sigma > 0.3 else part
    x, y = np.ascontiguousarray(at[..., 0]), np.ascontiguousarray(at[..., 1])
    size = np.array(levels[0].shape[::-1]) / factor - 0.5
    sample_cells(np.asarray(soft, dtype=np.float32), x, y, (x0, y0), size, light)
    return light


def rectify_coarse(levels: Levels, laying: Laying, box: Box) -> Picture:
    """Return the plate's picture at a pitch coarser than the scan's, averaged before it is sampled.

    Returns
    -------
    Picture
        (rows, columns) linear luminance, the scanner's white = 1; NaN outside the scan.
    """
    picture = np.empty((box.rows, box.columns), dtype=np.float32)
    for tile in averaged_tiles(levels, laying, box):
        picture[tile.cells] = tile.light
    return picture
