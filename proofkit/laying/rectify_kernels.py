"""Compiled sampling of a sheet on the cells of a plate box: places between nodes, linear between pixels."""

import numpy as np

from proofkit.arrays import INK_SCALE, INK_ZERO, Floats, Ink, Mask, Picture, Plane
from proofkit.scan.compiling import kernel

NODE_PX = 24
"""Distance of the nodes at which the map is worked out exactly; between them it is linear. The warp bends less
than 0.1 mm in 10 mm, so over 24 px of 0.05 mm the error is under 1 µm. [px]"""


@kernel
def _inner(place: float, size: int) -> tuple[int, float]:
    """Return the pixel before a place and the way on to the next; beyond the border, the border's. [px]"""
    held = min(max(place, 0.0), size - 1.0)
    pixel = min(int(held), max(size - 2, 0))
    return pixel, held - pixel


@kernel
def sample_cells(
    part: Plane,
    x: Floats,
    y: Floats,
    at: Floats,
    size: Floats,
    rows: Mask,
    columns: Mask,
    out: Picture,
) -> None:
    """Write the light of wanted cells into `out`, NaN outside the scan; cells not wanted are left as they are.

    Parameters
    ----------
    part : (h, w) uint16
        Part of a scan, perhaps reduced. [1/65535]
    x, y : (node rows, node columns)
        Places of the nodes in the whole scan. [px]
    at : (4,)
        First pixel of the part in the scan, x and y, and how many px of the scan one of the part has, x and y.
    size : (2,)
        Width and height of the whole scan. [px]
    rows, columns : (m,), (n,) bool
        A cell is wanted when its row and its column are.
    out : (m, n) float32
        The scanner's white = 1.
    """
    height, width = part.shape
    for row in range(rows.size):
        if not rows[row]:
            continue
        j = min(row // NODE_PX, x.shape[0] - 2)
        b = (row - j * NODE_PX) / NODE_PX
        for i in range(x.shape[1] - 1):
            first = i * NODE_PX
            x0, x1 = (1.0 - b) * x[j, i] + b * x[j + 1, i], (1.0 - b) * x[j, i + 1] + b * x[j + 1, i + 1]
            y0, y1 = (1.0 - b) * y[j, i] + b * y[j + 1, i], (1.0 - b) * y[j, i + 1] + b * y[j + 1, i + 1]
            for column in range(first, min(first + NODE_PX, columns.size)):
                if not columns[column]:
                    continue
                a = (column - first) / NODE_PX
                px, py = x0 + a * (x1 - x0), y0 + a * (y1 - y0)
                if not (-0.5 <= px <= size[0] - 0.5 and -0.5 <= py <= size[1] - 0.5):
                    out[row, column] = np.nan
                    continue
                left, u = _inner((px - at[0] + 0.5) / at[2] - 0.5, width)
                top, v = _inner((py - at[1] + 0.5) / at[3] - 0.5, height)
                right, below = min(left + 1, width - 1), min(top + 1, height - 1)
                upper = (1.0 - u) * part[top, left] + u * part[top, right]
                lower = (1.0 - u) * part[below, left] + u * part[below, right]
                out[row, column] = ((1.0 - v) * upper + v * lower) / 65535.0


@kernel
def nearest_cells(plane: Plane, x: Floats, y: Floats, level: Floats, out: Picture) -> None:
    """Write the light of the pixel nearest to each cell over a level that is linear between nodes; NaN outside.

    `x`, `y` and `level` (node rows, node columns) are places in the scan [px] and what the light is told against;
    `out` is (m, n) float32.
    """
    h, w = plane.shape
    for row in range(out.shape[0]):
        j = min(row // NODE_PX, x.shape[0] - 2)
        b = (row - j * NODE_PX) / NODE_PX
        for i in range(x.shape[1] - 1):
            first = i * NODE_PX
            x0, x1 = (1.0 - b) * x[j, i] + b * x[j + 1, i], (1.0 - b) * x[j, i + 1] + b * x[j + 1, i + 1]
            y0, y1 = (1.0 - b) * y[j, i] + b * y[j + 1, i], (1.0 - b) * y[j, i + 1] + b * y[j + 1, i + 1]
            l0 = (1.0 - b) * level[j, i] + b * level[j + 1, i]
            l1 = (1.0 - b) * level[j, i + 1] + b * level[j + 1, i + 1]
            for column in range(first, min(first + NODE_PX, out.shape[1])):
                a = (column - first) / NODE_PX
                px, py = x0 + a * (x1 - x0), y0 + a * (y1 - y0)
                if -0.5 <= px <= w - 0.5 and -0.5 <= py <= h - 0.5:
                    pixel, line = min(int(px + 0.5), w - 1), min(int(py + 0.5), h - 1)
                    out[row, column] = plane[line, pixel] / (65535.0 * (l0 + a * (l1 - l0)))
                else:
                    out[row, column] = np.nan


@kernel
def ink_of_cells(light: Picture, paper: float, rows: Mask, columns: Mask, ink: Ink, outside: Mask) -> None:
    """Write the codes of ink of wanted cells, bare paper where `light` is NaN, and whether it is."""
    for row in range(rows.size):
        if not rows[row]:
            continue
        for column in range(columns.size):
            if columns[column]:
                value = light[row, column]
                lost = np.isnan(value)
                code = INK_ZERO if lost else np.rint(INK_ZERO + INK_SCALE * (1.0 - value / paper))
                ink[row, column] = np.uint8(min(max(code, 0.0), 255.0))
                outside[row, column] = lost
