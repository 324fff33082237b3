"""Compiled sampling of a sheet on the cells of a plate box: places between nodes, linear between pixels."""

import numpy as np

from proofkit.arrays import Floats, Picture, Plane
from proofkit.scan.compiling import kernel

NODE_PX = 24
"""Distance of the nodes at which the map is worked out exactly; between them it is linear. The warp bends less
than 0.1 mm in 10 mm, so over 24 px of 0.05 mm the error is under 1 µm. [px]"""


@kernel
def _held(place: float, size: int) -> float:
    """Return a place, or the border of a part of so many pixels where it lies beyond. [px]"""
    return min(max(place, 0.0), size - 1.0)


@kernel
def _linear(part: Plane, x: float, y: float) -> float:
    """Return a part of a scan at a place inside it, linear between pixels; unsigned numbers of pixels cost no test."""
    left, top = np.uint64(x), np.uint64(y)
    right = min(left + np.uint64(1), np.uint64(part.shape[1] - 1))
    below = min(top + np.uint64(1), np.uint64(part.shape[0] - 1))
    u, v = x - left, y - top
    upper = part[top, left] + u * (float(part[top, right]) - part[top, left])
    lower = part[below, left] + u * (float(part[below, right]) - part[below, left])
    return float(upper + v * (lower - upper))


@kernel
def _is_inside(x: float, y: float, wide: float, high: float) -> bool:
    return -0.5 <= x <= wide - 0.5 and -0.5 <= y <= high - 0.5


@kernel
def sample_cells(part: Plane, x: Floats, y: Floats, at: Floats, size: Floats, out: Picture) -> None:
    """Write the light of cells into `out`, NaN outside the scan.

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
    out : (m, n) float32
        The scanner's white = 1.

    Notes
    -----
    Between two nodes of a row places run evenly, so that the row lies on the scan where both its ends do.
    """
    height, width = part.shape
    for row in range(out.shape[0]):
        j = min(row // NODE_PX, x.shape[0] - 2)
        b = (row - j * NODE_PX) / NODE_PX
        for i in range(x.shape[1] - 1):
            first = i * NODE_PX
            last = min(first + NODE_PX, out.shape[1])
            x0, x1 = (1.0 - b) * x[j, i] + b * x[j + 1, i], (1.0 - b) * x[j, i + 1] + b * x[j + 1, i + 1]
            y0, y1 = (1.0 - b) * y[j, i] + b * y[j + 1, i], (1.0 - b) * y[j, i + 1] + b * y[j + 1, i + 1]
            whole = _is_inside(x0, y0, size[0], size[1]) and _is_inside(x1, y1, size[0], size[1])
            dx, dy = (x1 - x0) / NODE_PX, (y1 - y0) / NODE_PX
            px, py = (x0 - at[0] + 0.5) / at[2] - 0.5, (y0 - at[1] + 0.5) / at[3] - 0.5
            step_x, step_y = dx / at[2], dy / at[3]
            for column in range(first, last):
                k = column - first
                if not whole and not _is_inside(x0 + k * dx, y0 + k * dy, size[0], size[1]):
                    out[row, column] = np.nan
                    continue
                here_x, here_y = _held(px + k * step_x, width), _held(py + k * step_y, height)
                out[row, column] = _linear(part, here_x, here_y) / 65535.0
