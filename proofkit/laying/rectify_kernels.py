"""Compiled sampling of a sheet on the cells of a plate box: places between nodes, linear between pixels."""

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats, Picture
from proofkit.scan.compiling import kernel

NODE_PX = 24
"""Distance of the nodes at which the map is worked out exactly; between them it is linear. The warp bends less
than 0.1 mm in 10 mm, so over 24 px of 0.05 mm the error is under 1 µm. [px]"""

SPAN = 32
"""Places of so many cells from a node on are worked out side by side, which takes no longer than `NODE_PX` of them; the
next node's are written over those that are too many."""

Slots = npt.NDArray[np.uint32]


@kernel
def of_column(nodes: Floats, j: int, b: float, i: int) -> float:
    """Return what is linear between nodes `j` and ``j + 1`` of column `i`, at `b` of the way."""
    return float((1.0 - b) * nodes[j, i] + b * nodes[j + 1, i])


@kernel
def all_on_scan(x: Floats, y: Floats, size: Floats) -> bool:
    """Return whether all nodes, and so all cells between them, lie on the scan; parameters as for `sample_cells`."""
    return bool(x.min() >= -0.5 and y.min() >= -0.5 and x.max() <= size[0] and y.max() <= size[1])


@kernel
def nodes_of_row(x: Floats, y: Floats, row: int, at_x: Floats, at_y: Floats) -> None:
    """Write where the nodes of a row of cells lie, (node columns,); `x` and `y` as for `sample_cells`."""
    j = min(row // NODE_PX, x.shape[0] - 2)
    b = (row - j * NODE_PX) / NODE_PX
    for nodes, at in ((x, at_x), (y, at_y)):
        upper, lower = nodes[j], nodes[j + 1]
        for i in range(at.size):
            at[i] = (1.0 - b) * upper[i] + b * lower[i]


@kernel
def is_beyond(at_x: Floats, at_y: Floats, size: Floats, column: int) -> bool:
    """Return whether a cell of a row lies outside the scan; `at_x` and `at_y` are from `nodes_of_row`."""
    i = min(column // NODE_PX, at_x.size - 2)
    a = (column - i * NODE_PX) / NODE_PX
    x, y = at_x[i] + a * (at_x[i + 1] - at_x[i]), at_y[i] + a * (at_y[i + 1] - at_y[i])
    return not (-0.5 <= x <= size[0] and -0.5 <= y <= size[1])


@kernel
def room_for_row(node_columns: int) -> tuple[Slots, Picture, Picture]:
    """Return working memory for `place_cells`."""
    cells = (node_columns - 2) * NODE_PX + SPAN
    return np.empty(cells, np.uint32), np.empty(cells, np.float32), np.empty(cells, np.float32)


@kernel
def place_cells(
    at_x: Floats,
    at_y: Floats,
    corner: tuple[int, int],
    size: tuple[int, int],
    room: tuple[Slots, Picture, Picture],
) -> None:
    """Write the pixel to the upper left of the cells of a row, and how far to the right of it and below it they lie.

    `at_x` and `at_y` are from `nodes_of_row`. Pixels are those of a part of the scan whose first one is `corner` and
    whose width and height are `size`; cells beyond it lie on its border. Places are in 32 bit floats from that pixel
    on: right to a thousandth of a pixel.
    """
    none, last_x, last_y = np.float32(0), np.float32(size[0] - 1), np.float32(size[1] - 1)
    most_x, most_y, wide = np.int32(size[0] - 2), np.int32(size[1] - 2), np.int32(size[0])
    for i in range(at_x.size - 1):
        x, y = np.float32(at_x[i] - corner[0]), np.float32(at_y[i] - corner[1])
        step_x = np.float32((at_x[i + 1] - at_x[i]) / NODE_PX)
        step_y = np.float32((at_y[i + 1] - at_y[i]) / NODE_PX)
        cut = slice(i * NODE_PX, i * NODE_PX + SPAN)
        first, across, down = room[0][cut], room[1][cut], room[2][cut]
        for k in range(SPAN):
            steps = np.float32(np.int32(k))
            place_x = min(max(x + steps * step_x, none), last_x)
            place_y = min(max(y + steps * step_y, none), last_y)
            column, line = min(np.int32(place_x), most_x), min(np.int32(place_y), most_y)
            across[k], down[k] = place_x - np.float32(column), place_y - np.float32(line)
            # Kept to 32 bits, as the compiler would else widen it.
            first[k] = np.uint32(np.int32(line * wide) + column)


@kernel
def sample_cells(
    part: Picture, x: Floats, y: Floats, corner: tuple[int, int], size: Floats, out: Picture
) -> None:
    """Write the light of cells into `out`, NaN outside the scan.

    Parameters
    ----------
    part : (h, w) float32
        Part of a scan, perhaps reduced; two pixels at least along each side. [1/65535]
    x, y : (node rows, node columns)
        Places of the nodes, `NODE_PX` cells apart; linear between them. [px of the part]
    size : (2,)
        Last place to the right and the lowest that lie on the scan. [px of the part]
    corner : (int, int)
        Where the part's first pixel lies: places count from the scan's first one of the same size.
    out : (m, n) float32
        The scanner's white = 1.
    """
    height, width = part.shape
    flat, columns, node_columns = part.reshape(-1), out.shape[1], x.shape[1]
    at_x, at_y, room = np.empty(node_columns), np.empty(node_columns), room_for_row(node_columns)
    first, across, down = room
    whole = all_on_scan(x, y, size)
    one, below, scale = np.uint64(1), np.uint64(width), np.float32(1 / 65535.0)
    for row in range(out.shape[0]):
        nodes_of_row(x, y, row, at_x, at_y)
        place_cells(at_x, at_y, corner, (width, height), room)
        for c in range(columns):
            at = np.uint64(first[c])
            under = at + below
            upper = flat[at] + across[c] * (flat[at + one] - flat[at])
            lower = flat[under] + across[c] * (flat[under + one] - flat[under])
            out[row, c] = (upper + down[c] * (lower - upper)) * scale
        if not whole:
            for c in range(columns):
                if is_beyond(at_x, at_y, size, c):
                    out[row, c] = np.nan
