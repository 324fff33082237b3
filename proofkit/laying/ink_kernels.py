"""Compiled reading of a sheet's ink on the cells of a plate box: softened a little, then linear between pixels."""

import numpy as np

from proofkit.arrays import INK_SCALE, INK_ZERO, Floats, Ink, Mask, Picture, Plane
from proofkit.laying.rectify_kernels import (
    NODE_PX,
    all_on_scan,
    is_beyond,
    nodes_of_row,
    of_column,
    place_cells,
    room_for_row,
)
from proofkit.scan.compiling import kernel


@kernel
def softened(plane: Plane, top: int, bottom: int, left: int, right: int) -> Picture:
    """Return a part of a plane averaged with weights 1, 6, 1 along rows and columns, in whole numbers as floats.

    That is a variance of a quarter px² along each, whatever the part that is asked for; beyond the plane its border.
    """
    h, w = plane.shape
    wide = right - left
    out = np.empty((bottom - top, wide), dtype=np.float32)
    line = np.empty(wide + 2, dtype=np.uint32)
    six, half, shift = np.uint32(6), np.uint32(32), np.uint32(6)
    before, after = max(left - 1, 0), min(right, w - 1)
    for r in range(top, bottom):
        upper, here, lower = plane[max(r - 1, 0)], plane[r], plane[min(r + 1, h - 1)]
        line[0] = np.uint32(upper[before]) + six * np.uint32(here[before]) + np.uint32(lower[before])
        line[wide + 1] = np.uint32(upper[after]) + six * np.uint32(here[after]) + np.uint32(lower[after])
        upper, here, lower = upper[left:right], here[left:right], lower[left:right]
        for c in range(wide):
            line[c + 1] = np.uint32(upper[c] + six * np.uint32(here[c]) + lower[c])
        row = out[r - top]
        for c in range(wide):
            mean = np.uint32(line[c] + six * line[c + 1] + line[c + 2] + half) >> shift
            row[c] = np.float32(np.int32(mean))
    return out


@kernel
def _extent(nodes: Floats, rows: int, columns: int) -> tuple[float, float]:
    """Return the least and the greatest value of cells between nodes; those are reached at nodes and last cells."""
    low, high = np.inf, -np.inf
    for j in range(nodes.shape[0]):
        row = min(j * NODE_PX, rows - 1)
        upper = min(row // NODE_PX, nodes.shape[0] - 2)
        b = (row - upper * NODE_PX) / NODE_PX
        for i in range(nodes.shape[1]):
            column = min(i * NODE_PX, columns - 1)
            before = min(column // NODE_PX, nodes.shape[1] - 2)
            a = (column - before * NODE_PX) / NODE_PX
            one, other = of_column(nodes, upper, b, before), of_column(nodes, upper, b, before + 1)
            value = (1.0 - a) * one + a * other
            low, high = min(low, value), max(high, value)
    return low, high


@kernel
def write_ink(plane: Plane, x: Floats, y: Floats, size: Floats, paper: float, ink: Ink) -> int:
    """Write the codes of ink of cells, bare paper outside the scan; return how many lie there.

    Parameters
    ----------
    plane : Plane
        A level of a scan. [1/65535]
    x, y, size
        As for `sample_cells`, in the pixels of the level.
    paper : float
        Luminance of bare paper, the scanner's white = 1. [-]
    ink : (m, n) uint8
    """
    h, w = plane.shape
    low, high = _extent(y, ink.shape[0], ink.shape[1])
    top, bottom = max(int(np.floor(low)) - 1, 0), min(int(np.ceil(high)) + 2, h)
    low, high = _extent(x, ink.shape[0], ink.shape[1])
    left, right = max(int(np.floor(low)) - 1, 0), min(int(np.ceil(high)) + 2, w)
    if bottom - top < 2 or right - left < 2:
        ink[:] = np.uint8(INK_ZERO)
        return ink.size
    soft = softened(plane, top, bottom, left, right)
    flat, wide, node_columns = soft.reshape(-1), np.uint64(right - left), x.shape[1]
    at_x, at_y, room = np.empty(node_columns), np.empty(node_columns), room_for_row(node_columns)
    first, across, down = room
    scale, bare = np.float32(INK_SCALE / paper / 65535.0), np.float32(INK_ZERO + INK_SCALE)
    none, full, half, one = np.float32(0), np.float32(255), np.float32(0.5), np.uint64(1)
    whole, lost = all_on_scan(x, y, size), 0
    for row in range(ink.shape[0]):
        nodes_of_row(x, y, row, at_x, at_y)
        place_cells(at_x, at_y, (left, top), (right - left, bottom - top), room)
        codes = ink[row]
        for c in range(codes.size):
            at = np.uint64(first[c])
            below = at + wide
            upper = flat[at] + across[c] * (flat[at + one] - flat[at])
            lower = flat[below] + across[c] * (flat[below + one] - flat[below])
            light = upper + down[c] * (lower - upper)
            codes[c] = np.uint8(np.int32(min(max(bare - scale * light, none), full) + half))
        if not whole:
            for c in range(codes.size):
                if is_beyond(at_x, at_y, size, c):
                    codes[c] = np.uint8(INK_ZERO)
                    lost += 1
    return lost


@kernel
def mark_beyond(x: Floats, y: Floats, size: Floats, outside: Mask) -> None:
    """Write which cells lie outside the scan; `x`, `y` and `size` as for `write_ink`."""
    at_x, at_y = np.empty(x.shape[1]), np.empty(x.shape[1])
    for row in range(outside.shape[0]):
        nodes_of_row(x, y, row, at_x, at_y)
        for c in range(outside.shape[1]):
            outside[row, c] = is_beyond(at_x, at_y, size, c)


@kernel
def read_windows(
    plane: Plane, x: Floats, y: Floats, size: Floats, paper: float, windows: Ink, beyond: Floats
) -> None:
    """Write the ink of many small windows (n, side, side), and the share of each that lies outside the scan (n,).

    `x` and `y` (n, node rows, node columns) are the nodes of each window; else as for `write_ink`.
    """
    for k in range(windows.shape[0]):
        beyond[k] = write_ink(plane, x[k], y[k], size, paper, windows[k]) / windows[k].size
