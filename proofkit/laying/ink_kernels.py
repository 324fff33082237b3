"""Compiled reading of a sheet's ink on the cells of a plate box: softened a little, then linear between pixels."""

import numpy as np

from proofkit.arrays import INK_SCALE, INK_ZERO, Floats, Ink, Mask, Plane
from proofkit.laying.rectify_kernels import NODE_PX
from proofkit.scan.compiling import kernel


@kernel
def softened(plane: Plane, top: int, bottom: int, left: int, right: int) -> Plane:
    """Return a part of a plane averaged with weights 1, 6, 1 along rows and columns; beyond the plane its border.

    That is a variance of a quarter px² along each, whatever the part that is asked for.
    """
    h, w = plane.shape
    wide = right - left
    out = np.empty((bottom - top, wide), dtype=np.uint16)
    line = np.empty(wide + 2, dtype=np.uint32)
    six, half, shift = np.uint32(6), np.uint32(32), np.uint32(6)
    before, after = max(left - 1, 0), min(right, w - 1)
    for r in range(top, bottom):
        upper, here, lower = plane[max(r - 1, 0)], plane[r], plane[min(r + 1, h - 1)]
        line[0] = np.uint32(upper[before]) + six * np.uint32(here[before]) + np.uint32(lower[before])
        line[wide + 1] = np.uint32(upper[after]) + six * np.uint32(here[after]) + np.uint32(lower[after])
        upper, here, lower = upper[left:right], here[left:right], lower[left:right]
        for c in range(wide):
            line[c + 1] = np.uint32(upper[c]) + six * np.uint32(here[c]) + np.uint32(lower[c])
        row = out[r - top]
        for c in range(wide):
            row[c] = (line[c] + six * line[c + 1] + line[c + 2] + half) >> shift
    return out


@kernel
def _between(nodes: Floats, j: int, b: float, i: int) -> float:
    """Return what is linear between nodes `j` and ``j + 1`` of column `i`, at `b` of the way."""
    return float((1.0 - b) * nodes[j, i] + b * nodes[j + 1, i])


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
            one, other = _between(nodes, upper, b, before), _between(nodes, upper, b, before + 1)
            value = (1.0 - a) * one + a * other
            low, high = min(low, value), max(high, value)
    return low, high


@kernel
def _lies_on(x: float, y: float, wide: float, high: float) -> bool:
    """Return whether a place lies on a scan; `wide` and `high` are its sides in the pixels of its level."""
    return -0.5 <= x <= wide and -0.5 <= y <= high


@kernel
def write_ink(plane: Plane, x: Floats, y: Floats, size: Floats, paper: float, ink: Ink) -> int:
    """Write the codes of ink of cells, bare paper outside the scan; return how many lie there.

    Parameters
    ----------
    plane : Plane
        A level of a scan. [1/65535]
    x, y : (node rows, node columns)
        Places of the nodes, `NODE_PX` cells apart, in the pixels of the level; linear between them.
    size : (2,)
        Last place to the right and the lowest that lie on the scan, in the pixels of the level.
    paper : float
        Luminance of bare paper, the scanner's white = 1. [-]
    ink : (m, n) uint8

    Notes
    -----
    Places are in 32 bit floats from the first pixel of the softened part on: right to a thousandth of a pixel.
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
    flat, wide, columns = soft.reshape(-1), np.uint64(right - left), ink.shape[1]
    first = np.empty(columns, dtype=np.uint32)
    across, down = np.empty(columns, dtype=np.float32), np.empty(columns, dtype=np.float32)
    last_x, last_y = np.float32(right - left - 1), np.float32(bottom - top - 1)
    most_x, most_y = np.int32(right - left - 2), np.int32(bottom - top - 2)
    scale, bare = np.float32(INK_SCALE / paper / 65535.0), np.float32(INK_ZERO + INK_SCALE)
    none, full, half, one = np.float32(0), np.float32(255), np.float32(0.5), np.uint64(1)
    lost = 0
    for row in range(ink.shape[0]):
        j = min(row // NODE_PX, x.shape[0] - 2)
        b = (row - j * NODE_PX) / NODE_PX
        codes = ink[row]
        for i in range(x.shape[1] - 1):
            begin, end = i * NODE_PX, min((i + 1) * NODE_PX, columns)
            x0, y0 = _between(x, j, b, i), _between(y, j, b, i)
            here_x, here_y = np.float32(x0 - left), np.float32(y0 - top)
            step_x = np.float32((_between(x, j, b, i + 1) - x0) / NODE_PX)
            step_y = np.float32((_between(y, j, b, i + 1) - y0) / NODE_PX)
            for c in range(begin, end):
                k = np.float32(np.int32(c - begin))
                place_x = min(max(here_x + k * step_x, none), last_x)
                place_y = min(max(here_y + k * step_y, none), last_y)
                column, line = min(np.int32(place_x), most_x), min(np.int32(place_y), most_y)
                across[c], down[c] = place_x - np.float32(column), place_y - np.float32(line)
                first[c] = line * np.int32(wide) + column
        for c in range(columns):
            at = np.uint64(first[c])
            below = at + wide
            upper = np.float32(flat[at])
            upper += across[c] * (np.float32(flat[at + one]) - upper)
            lower = np.float32(flat[below])
            lower += across[c] * (np.float32(flat[below + one]) - lower)
            light = upper + down[c] * (lower - upper)
            codes[c] = np.uint8(np.int32(min(max(bare - scale * light, none), full) + half))
        lost += _bare_beyond(x, y, j, b, size, codes)
    return lost


@kernel
def _bare_beyond(x: Floats, y: Floats, j: int, b: float, size: Floats, codes: Ink) -> int:
    """Write bare paper into the cells of a row that lie outside the scan; return how many do.

    Between two nodes places run evenly, so that all of them lie on the scan where both ends do.
    """
    lost = 0
    for i in range(x.shape[1] - 1):
        x0, x1 = _between(x, j, b, i), _between(x, j, b, i + 1)
        y0, y1 = _between(y, j, b, i), _between(y, j, b, i + 1)
        if _lies_on(x0, y0, size[0], size[1]) and _lies_on(x1, y1, size[0], size[1]):
            continue
        for c in range(i * NODE_PX, min((i + 1) * NODE_PX, codes.size)):
            a = (c - i * NODE_PX) / NODE_PX
            if not _lies_on(x0 + a * (x1 - x0), y0 + a * (y1 - y0), size[0], size[1]):
                codes[c] = np.uint8(INK_ZERO)
                lost += 1
    return lost


@kernel
def mark_beyond(x: Floats, y: Floats, size: Floats, outside: Mask) -> None:
    """Write which cells lie outside the scan; `x`, `y` and `size` as for `write_ink`."""
    for row in range(outside.shape[0]):
        j = min(row // NODE_PX, x.shape[0] - 2)
        b = (row - j * NODE_PX) / NODE_PX
        for c in range(outside.shape[1]):
            i = min(c // NODE_PX, x.shape[1] - 2)
            a = (c - i * NODE_PX) / NODE_PX
            place_x = (1.0 - a) * _between(x, j, b, i) + a * _between(x, j, b, i + 1)
            place_y = (1.0 - a) * _between(y, j, b, i) + a * _between(y, j, b, i + 1)
            outside[row, c] = not _lies_on(place_x, place_y, size[0], size[1])


@kernel
def read_windows(
    plane: Plane, x: Floats, y: Floats, size: Floats, paper: float, windows: Ink, beyond: Floats
) -> None:
    """Write the ink of many small windows (n, side, side), and the share of each that lies outside the scan (n,).

    `x` and `y` (n, node rows, node columns) are the nodes of each window; else as for `write_ink`.
    """
    for k in range(windows.shape[0]):
        beyond[k] = write_ink(plane, x[k], y[k], size, paper, windows[k]) / windows[k].size
