"""Pictures of a sheet in the plate frame, for matching and for looking; measures read the sheet's own pixels."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import cv2
import numpy as np

from proofkit.arrays import FULL_SCALE, Floats, Ink, Mask, Picture, Plane, Points
from proofkit.laying.rectify_kernels import NODE_PX, ink_of_cells, sample_cells
from proofkit.laying.types import Laying, to_sheet_px
from proofkit.threads import each_in_order


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
"""Standard deviation of the averaging before cells are sampled. [cells]"""


@dataclass(frozen=True, slots=True, eq=False)
class Tile:
    """A part of a picture on the cells of a box."""

    cells: tuple[slice, slice]
    """Its rows and columns in the picture."""
    wanted: tuple[Mask, Mask]
    """Rows and columns that are wanted: a cell is when both are."""
    light: Picture
    """Linear luminance, the scanner's white = 1; NaN outside the scan, anything where it is not wanted."""


def averaged_tiles(
    plane: Plane,
    laying: Laying,
    box: Box,
    blur_cells: float = HALF_CELL,
    wanted: tuple[Mask, Mask] | None = None,
) -> Iterator[Tile]:
    """Give the picture of a sheet on the cells of a plate box tile by tile, averaged before it is sampled.

    Parameters
    ----------
    plane : Plane
        (h, w) linear luminance of the sheet. [1/65535]
    laying : Laying
    box : Box
    blur_cells : float, default HALF_CELL
        Standard deviation of the averaging. [cells]
    wanted : tuple of Mask, optional
        (rows,) and (columns,) of the box that are wanted; tiles without any are passed over.

    Notes
    -----
    The plane is first reduced to about half the pitch and blurred, so that what the cells cannot hold (hatching finer
    than two cells) averages to its tone instead of making false bands. Blocks of the reduction lie on the scan the
    same way for every tile.
    """
    cell_px = box.pitch_mm * laying.px_per_mm
    for part in _parts(laying, box, wanted):
        yield Tile(part.cells, part.wanted, _averaged(plane, part.px, part.wanted, cell_px, blur_cells))


class _Part(NamedTuple):
    """What is to be known of a tile before it is made."""

    cells: tuple[slice, slice]
    wanted: tuple[Mask, Mask]
    px: Floats
    """(rows, columns, 2) places of its nodes. [px]"""


def _parts(laying: Laying, box: Box, wanted: tuple[Mask, Mask] | None) -> Iterator[_Part]:
    """Give the parts of a box that are made as tiles."""
    every = np.ones(box.rows, dtype=np.bool_), np.ones(box.columns, dtype=np.bool_)
    in_rows, in_columns = every if wanted is None else wanted
    nodes, node_rows, node_columns = box_nodes(box)
    px = to_sheet_px(laying, nodes).reshape(node_rows, node_columns, 2)
    for j in range(0, node_rows - 1, TILE_NODES[0]):
        rows = slice(j * NODE_PX, min((j + TILE_NODES[0]) * NODE_PX, box.rows))
        for i in range(0, node_columns - 1, TILE_NODES[1]):
            columns = slice(i * NODE_PX, min((i + TILE_NODES[1]) * NODE_PX, box.columns))
            inside = in_rows[rows], in_columns[columns]
            if inside[0].any() and inside[1].any():
                own = px[j : j + TILE_NODES[0] + 1, i : i + TILE_NODES[1] + 1]
                yield _Part((rows, columns), inside, own)


def _averaged(
    plane: Plane, px: Floats, wanted: tuple[Mask, Mask], cell_px: float, blur_cells: float
) -> Picture:
    """Return the light of the cells between nodes at `px` (rows, columns, 2)."""
    light = np.full((len(wanted[0]), len(wanted[1])), np.nan, dtype=np.float32)
    h, w = plane.shape
    factor = max(int(cell_px / 2.0), 1)
    halo = int(np.ceil(4 * blur_cells * cell_px)) + factor + 2
    low, high = px.min(axis=(0, 1)) - halo, px.max(axis=(0, 1)) + halo
    x0, y0 = (max(int(value) // factor * factor, 0) for value in low)
    x1, y1 = (min(-int(-value // factor) * factor, side) for value, side in zip(high, (w, h), strict=True))
    if x1 - x0 < 2 or y1 - y0 < 2:
        return light
    part = plane[y0:y1, x0:x1]
    small = reduced(part, factor)
    fx, fy = part.shape[1] / small.shape[1], part.shape[0] / small.shape[0]
    sigma = blur_cells * cell_px / fx
    soft = cv2.GaussianBlur(small, (0, 0), sigma) if sigma > 0.3 else small
    x, y = np.ascontiguousarray(px[..., 0]), np.ascontiguousarray(px[..., 1])
    at, size = np.array([x0, y0, fx, fy], dtype=np.float64), np.array([w, h], dtype=np.float64)
    sample_cells(np.ascontiguousarray(soft), x, y, at, size, *wanted, light)
    return light


def rectify_coarse(plane: Plane, laying: Laying, box: Box) -> Picture:
    """Return the plate's picture at a pitch coarser than the scan's, averaged before it is sampled.

    Returns
    -------
    Picture
        (rows, columns) linear luminance, the scanner's white = 1; NaN outside the scan.
    """
    picture = np.empty((box.rows, box.columns), dtype=np.float32)
    for tile in averaged_tiles(plane, laying, box):
        picture[tile.cells] = tile.light
    return picture


def ink_cells(
    plane: Plane, laying: Laying, box: Box, paper: float, wanted: tuple[Mask, Mask] | None = None
) -> tuple[Ink, Mask]:
    """Return ink on the cells of a box as codes, bare paper where there is no sheet, and where that is.

    Parameters
    ----------
    plane, laying, box, wanted
        As for `averaged_tiles`; cells that are not wanted are 0.
    paper : float
        Luminance of bare paper, the scanner's white = 1. [-]

    Returns
    -------
    Ink
        (rows, columns)
    Mask
        (rows, columns) outside the scan; (0, 0) when no wanted cell is.
    """
    ink = np.zeros((box.rows, box.columns), dtype=np.uint8)
    cell_px = box.pitch_mm * laying.px_per_mm

    def made(part: _Part) -> Mask | None:
        light = _averaged(plane, part.px, part.wanted, cell_px, HALF_CELL)
        if not ink_of_cells(light, paper, *part.wanted, ink[part.cells]):
            return None
        return np.asarray(np.isnan(light) & part.wanted[0][:, None] & part.wanted[1])

    parts = list(_parts(laying, box, wanted))
    beyond = each_in_order(made, parts)
    outside = np.zeros((0, 0), dtype=np.bool_)
    for part, lost in zip(parts, beyond, strict=True):
        if lost is not None:
            if not outside.size:
                outside = np.zeros(ink.shape, dtype=np.bool_)
            outside[part.cells] = lost
    return ink, outside
