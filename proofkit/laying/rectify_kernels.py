"""Compiled sampling of a sheet on the cells of a plate box: places between nodes, linear between pixels."""

import numpy as np

from proofkit.arrays import Floats, Mask, Picture, Plane
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


@kernel
def _of_column(nodes: Floats, j: int, b: float, i: int) -> float:
    """Return what is linear between nodes `j` and ``j + 1`` of column `i`, at `b` of the way."""
    return float((1.0 - b) * nodes[j, i] + b * nodes[j + 1, i])


@kernel
def code_cells(plane: Plane, x: Floats, y: Floats, gain: Floats, wanted: Mask, codes: Plane) -> float:
    """Write the light of the pixel nearest to each cell times a gain as a whole number; return a mean of wanted cells.

    Parameters
    ----------
    plane : (h, w) uint16
        A scan.
    x, y, gain : (node rows, node columns)
        Places of the nodes in the scan [px], and what its pixels are multiplied by, 1 at most.
    wanted : (m, n) bool, or (0, 0)
    codes : (m, n) uint16
        Written: 1 at least, 0 outside the scan.

    Returns
    -------
    float
        Mean of the light of wanted cells times the gain, read linearly between pixels; NaN where none of them lies on
        the scan.
    """
    h, w = plane.shape
    flat = plane.reshape(-1)
    total, count = 0.0, 0
    for row in range(codes.shape[0]):
        j = min(row // NODE_PX, x.shape[0] - 2)
        b = (row - j * NODE_PX) / NODE_PX
        here = wanted[row] if wanted.size else wanted[:0, 0]
        for i in range(x.shape[1] - 1):
            first = i * NODE_PX
            last = min(first + NODE_PX, codes.shape[1])
            x0, x1 = _of_column(x, j, b, i), _of_column(x, j, b, i + 1)
            y0, y1 = _of_column(y, j, b, i), _of_column(y, j, b, i + 1)
            g0, g1 = _of_column(gain, j, b, i), _of_column(gain, j, b, i + 1)
            well = min(x0, x1) >= 0.0 and max(x0, x1) < w - 1 and min(y0, y1) >= 0.0 and max(y0, y1) < h - 1
            steps = (x0, (x1 - x0) / NODE_PX, y0, (y1 - y0) / NODE_PX, g0, (g1 - g0) / NODE_PX)
            read = (
                _inner(flat, w, steps, first, last, here, codes[row])
                if well
                else _at_edges(plane, steps, first, last, here, codes[row])
            )
            total += read[0]
            count += read[1]
    return total / count if count else np.nan


PLACE_BITS = 20
"""Places between two nodes are whole numbers of ``1 / 2 ** PLACE_BITS`` px: right to 1e-5 px at the far one."""

WEIGHT_BITS = 15
"""Weights of linear reading: products of two with a pixel, summed with their places over the cells between two nodes,
stay below ``2 ** 56``."""

GAIN_BITS = 40
"""Gains are whole numbers of ``1 / 2 ** GAIN_BITS``: with a pixel they stay below ``2 ** 56`` too."""


@kernel
def _inner(
    flat: Plane,
    wide: int,
    steps: tuple[float, float, float, float, float, float],
    first: int,
    last: int,
    here: Mask,
    codes: Plane,
) -> tuple[float, int]:
    """Read the cells from `first` to `last` of a row, all of them amid pixels."""
    x0, dx, y0, dy, g0, dg = steps
    left, top = int(x0), int(y0)
    unit, mask = 1 << PLACE_BITS, (1 << PLACE_BITS) - 1
    x, y = int((x0 - left) * unit + 0.5), int((y0 - top) * unit + 0.5)
    step_x, step_y = int(np.rint(dx * unit)), int(np.rint(dy * unit))
    gain, step_gain = int(g0 * (1 << GAIN_BITS)), int(np.rint(dg * (1 << GAIN_BITS)))
    begin, half, finer = top * wide + left, unit >> 1, PLACE_BITS - WEIGHT_BITS
    rounding = 1 << (GAIN_BITS - 1)
    one, below = np.uint64(1), np.uint64(wide)
    total, moment, count = 0, 0, 0
    for column in range(first, last):
        nearest = np.uint64(begin + ((y + half) >> PLACE_BITS) * wide + ((x + half) >> PLACE_BITS))
        codes[column] = np.uint16(max((int(flat[nearest]) * gain + rounding) >> GAIN_BITS, 1))
        if here.size and here[column]:
            at = np.uint64(begin + (y >> PLACE_BITS) * wide + (x >> PLACE_BITS))
            u, v = (x & mask) >> finer, (y & mask) >> finer
            upper, lower = int(flat[at]), int(flat[at + below])
            upper = (upper << WEIGHT_BITS) + u * (int(flat[at + one]) - upper)
            lower = (lower << WEIGHT_BITS) + u * (int(flat[at + below + one]) - lower)
            light = (upper << WEIGHT_BITS) + v * (lower - upper)
            total += light
            moment += (column - first) * light
            count += 1
        x += step_x
        y += step_y
        gain += step_gain
    return (g0 * total + dg * moment) / (1 << (2 * WEIGHT_BITS)), count


@kernel
def _at_edges(
    plane: Plane,
    steps: tuple[float, float, float, float, float, float],
    first: int,
    last: int,
    here: Mask,
    codes: Plane,
) -> tuple[float, int]:
    """Do as `_inner` where cells may lie on the border of the scan or beyond it."""
    x0, dx, y0, dy, g0, dg = steps
    h, w = plane.shape
    total, count = 0.0, 0
    for column in range(first, last):
        k = column - first
        x, y = x0 + k * dx, y0 + k * dy
        if not (-0.5 <= x <= w - 0.5 and -0.5 <= y <= h - 0.5):
            codes[column] = 0
            continue
        gain = g0 + k * dg
        nearest = plane[min(int(y + 0.5), h - 1), min(int(x + 0.5), w - 1)]
        codes[column] = max(np.uint16(nearest * gain + 0.5), np.uint16(1))
        if here.size and here[column]:
            c, r = min(max(int(x), 0), w - 2), min(max(int(y), 0), h - 2)
            u, v = min(max(x - c, 0.0), 1.0), min(max(y - r, 0.0), 1.0)
            upper = plane[r, c] + u * (float(plane[r, c + 1]) - plane[r, c])
            lower = plane[r + 1, c] + u * (float(plane[r + 1, c + 1]) - plane[r + 1, c])
            total += (upper + v * (lower - upper)) * gain
            count += 1
    return total, count
