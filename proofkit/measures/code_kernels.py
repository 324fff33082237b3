"""Compiled reading of the pixels nearest to the cells of a box."""

import numpy as np

from proofkit.arrays import Floats, Picture, Plane
from proofkit.laying.rectify_kernels import NODE_PX, of_column
from proofkit.scan.compiling import kernel

PLACE_BITS = 20
"""Places between two nodes are whole numbers of ``1 / 2 ** PLACE_BITS`` px: right to 1e-5 px at the far one."""


@kernel
def code_cells(plane: Plane, x: Floats, y: Floats, gain: Floats, codes: Plane) -> None:
    """Write the light of the pixel nearest to each cell times a gain as a whole number.

    Parameters
    ----------
    plane : (h, w) uint16
        A scan.
    x, y, gain : (node rows, node columns)
        Places of the nodes in the scan [px], and what its pixels are multiplied by, 1 at most.
    codes : (m, n) uint16
        Written: 1 at least, 0 outside the scan.

    Notes
    -----
    A cell is about a pixel and sheets lie nearly straight: most often the cells between two nodes of a row are pixels
    that follow each other, forwards or, on a sheet turned by 180 degrees, backwards.
    """
    h, w = plane.shape
    flat, columns = plane.reshape(-1), codes.shape[1]
    gains, half = np.empty(columns, dtype=np.float32), np.float32(0.5)
    for row in range(codes.shape[0]):
        j = min(row // NODE_PX, x.shape[0] - 2)
        b = (row - j * NODE_PX) / NODE_PX
        line = codes[row]
        x1, y1 = of_column(x, j, b, 0), of_column(y, j, b, 0)
        for i in range(x.shape[1] - 1):
            first, last = i * NODE_PX, min((i + 1) * NODE_PX, columns)
            x0, y0 = x1, y1
            x1, y1 = of_column(x, j, b, i + 1), of_column(y, j, b, i + 1)
            dx, dy, on = (x1 - x0) / NODE_PX, (y1 - y0) / NODE_PX, last - first - 1
            if not (
                min(x0, x1) >= 0.0 and max(x0, x1) < w - 1 and min(y0, y1) >= 0.0 and max(y0, y1) < h - 1
            ):
                _at_edges(plane, (x0, dx, y0, dy), line[first:last])
                continue
            left, right = int(x0 + 0.5), int(x0 + on * dx + 0.5)
            top, bottom = int(y0 + 0.5), int(y0 + on * dy + 0.5)
            begin = top * w + left
            if top == bottom and right - left == on:
                for c in range(first, last):
                    line[c] = max(flat[np.uint64(begin - first + c)], np.uint16(1))
            elif top == bottom and left - right == on:
                for c in range(first, last):
                    line[c] = max(flat[np.uint64(begin + first - c)], np.uint16(1))
            else:
                _one_by_one(flat, w, (x0, dx, y0, dy), line[first:last])
        _gains_of_row(gain, j, b, gains)
        for c in range(columns):
            code = np.uint16(np.int32(np.float32(line[c]) * gains[c] + half))
            line[c] = max(code, min(line[c], np.uint16(1)))


@kernel
def _gains_of_row(gain: Floats, j: int, b: float, out: Picture) -> None:
    """Write the gains of a row of cells; 32 bits move a code by less than a hundredth."""
    after = of_column(gain, j, b, 0)
    for i in range(gain.shape[1] - 1):
        before = after
        after = of_column(gain, j, b, i + 1)
        start, step = np.float32(before), np.float32((after - before) / NODE_PX)
        part = out[i * NODE_PX : (i + 1) * NODE_PX]
        for k in range(part.size):
            part[k] = start + np.float32(k) * step


@kernel
def _one_by_one(flat: Plane, wide: int, steps: tuple[float, float, float, float], pixels: Plane) -> None:
    """Read the pixels of cells between two nodes of a row, all of them amid pixels, wherever each may lie."""
    x0, dx, y0, dy = steps
    unit = 1 << PLACE_BITS
    left, top = int(x0), int(y0)
    x, y = int((x0 - left + 0.5) * unit + 0.5), int((y0 - top + 0.5) * unit + 0.5)
    step_x, step_y = int(np.rint(dx * unit)), int(np.rint(dy * unit))
    begin = top * wide + left
    for c in range(pixels.size):
        at = np.uint64(begin + (y >> PLACE_BITS) * wide + (x >> PLACE_BITS))
        pixels[c] = max(flat[at], np.uint16(1))
        x += step_x
        y += step_y


@kernel
def _at_edges(plane: Plane, steps: tuple[float, float, float, float], pixels: Plane) -> None:
    """Do as `_one_by_one` where cells may lie on the border of the scan or beyond it; 0 there."""
    x0, dx, y0, dy = steps
    h, w = plane.shape
    for c in range(pixels.size):
        x, y = x0 + c * dx, y0 + c * dy
        pixels[c] = 0
        if -0.5 <= x <= w - 0.5 and -0.5 <= y <= h - 0.5:
            pixels[c] = max(plane[min(int(y + 0.5), h - 1), min(int(x + 0.5), w - 1)], np.uint16(1))
