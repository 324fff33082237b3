"""One pass from a level of a pyramid to a picture: map, interpolate, divide by the paper, mark what lies outside."""

import numpy as np

from proofkit.arrays import Floats, Picture, Plane
from proofkit.scan.compiling import kernel


@kernel
def look_cells(
    plane: Plane,
    start: tuple[float, float, float],
    nodes: Floats,
    node_px: int,
    limits: tuple[int, int],
    picture: Picture,
) -> None:
    """Fill a picture with linear reflectance.

    Parameters
    ----------
    plane : (h, w) uint16
        Part of a level, upright.
    start : tuple of float
        Centre of its first pixel along x and y, and its step. [px of the scan]
    nodes : (rows, columns, 3) float64
        Scan x [px], scan y [px] and paper level [1/65535] at every `node_px`-th cell; linear between.
    node_px : int
        Cells between nodes.
    limits : tuple of int
        Width and height of the whole scan. [px]
    picture : (rows, columns) float32
        Written; NaN outside the scan.
    """
    left, top, step = start
    h, w = plane.shape
    rows, columns = picture.shape
    right, bottom = limits[0] - 0.5, limits[1] - 0.5
    part = 1.0 / step
    for r in range(rows):
        j = min(r // node_px, nodes.shape[0] - 2)
        b = r / node_px - j
        for i in range(nodes.shape[1] - 1):
            first, last = i * node_px, min((i + 1) * node_px, columns)
            x = (1 - b) * nodes[j, i, 0] + b * nodes[j + 1, i, 0]
            y = (1 - b) * nodes[j, i, 1] + b * nodes[j + 1, i, 1]
            paper = (1 - b) * nodes[j, i, 2] + b * nodes[j + 1, i, 2]
            dx = ((1 - b) * nodes[j, i + 1, 0] + b * nodes[j + 1, i + 1, 0] - x) / node_px
            dy = ((1 - b) * nodes[j, i + 1, 1] + b * nodes[j + 1, i + 1, 1] - y) / node_px
            dp = ((1 - b) * nodes[j, i + 1, 2] + b * nodes[j + 1, i + 1, 2] - paper) / node_px
            for c in range(first, last):
                if x < -0.5 or y < -0.5 or x > right or y > bottom:
                    picture[r, c] = np.nan
                else:
                    u = min(max((x - left) * part, 0.0), w - 1.0)
                    v = min(max((y - top) * part, 0.0), h - 1.0)
                    k, m = int(u), int(v)
                    du, dv = u - k, v - m
                    k1, m1 = min(k + 1, w - 1), min(m + 1, h - 1)
                    upper = (1 - du) * plane[m, k] + du * plane[m, k1]
                    lower = (1 - du) * plane[m1, k] + du * plane[m1, k1]
                    picture[r, c] = ((1 - dv) * upper + dv * lower) / paper
                x += dx
                y += dy
                paper += dp
