"""Compiled reading of profiles across lines, in a scan's own pixels."""

import numpy as np

from proofkit.arrays import Floats, Picture, Plane, Points
from proofkit.reflectance.kernels import level_at
from proofkit.scan.compiling import kernel

BESIDE_PX = 0.7
"""Each sample is the mean of three readings this far apart along the line. [px]"""


@kernel
def _cubic(plane: Plane, x: float, y: float) -> float:
    """Return the plane at a place by cubic convolution (Keys 1981, a = -1/2); all sixteen pixels lie inside."""
    column = np.uint64(x)
    row = np.uint64(y)
    t = x - column
    a = ((-0.5 * t + 1.0) * t - 0.5) * t
    b = (1.5 * t - 2.5) * t * t + 1.0
    c = ((-1.5 * t + 2.0) * t + 0.5) * t
    d = (0.5 * t - 0.5) * t * t
    t = y - row
    e = ((-0.5 * t + 1.0) * t - 0.5) * t
    f = (1.5 * t - 2.5) * t * t + 1.0
    g = ((-1.5 * t + 2.0) * t + 0.5) * t
    h = (0.5 * t - 0.5) * t * t
    # Unsigned numbers of rows and columns spare the compiled code the test for places counted from the end.
    one, two = np.uint64(1), np.uint64(2)
    i, j, k = column - one, column + one, column + two
    up, down, last = row - one, row + one, row + two
    first = a * plane[up, i] + b * plane[up, column] + c * plane[up, j] + d * plane[up, k]
    second = a * plane[row, i] + b * plane[row, column] + c * plane[row, j] + d * plane[row, k]
    third = a * plane[down, i] + b * plane[down, column] + c * plane[down, j] + d * plane[down, k]
    fourth = a * plane[last, i] + b * plane[last, column] + c * plane[last, j] + d * plane[last, k]
    return float(e * first + f * second + g * third + h * fourth)


@kernel
def fill_profile(
    plane: Plane, centre: Floats, step: Floats, half: int, coefficients: Floats, surface: Floats, out: Floats
) -> None:
    """Write into `out` the 2 half + 1 values of R/Rp along `step` through `centre`; NaN outside the scan.

    `surface` is x0, y0 and scale of a `Paper`, whose level is taken at the centre.
    """
    h, w = plane.shape
    length = np.sqrt(step[0] ** 2 + step[1] ** 2)
    tx = -step[1] / length * BESIDE_PX
    ty = step[0] / length * BESIDE_PX
    level = level_at(coefficients, surface[0], surface[1], surface[2], centre[0], centre[1])
    gain = 1.0 / (3.0 * 65535.0 * level)
    wide, high = abs(tx) + 1.0, abs(ty) + 1.0
    for k in range(2 * half + 1):
        x = centre[0] + (k - half) * step[0]
        y = centre[1] + (k - half) * step[1]
        if x < wide or y < high or x + wide >= w - 1 or y + high >= h - 1:
            out[k] = np.nan
        else:
            total = _cubic(plane, x - tx, y - ty) + _cubic(plane, x, y) + _cubic(plane, x + tx, y + ty)
            out[k] = total * gain


@kernel
def sample_profiles(
    plane: Plane, centres: Points, steps: Points, half: int, coefficients: Floats, surface: Floats
) -> Picture:
    """Return (n, 2 half + 1) reflectance against paper along `steps` through `centres`; NaN outside."""
    n = centres.shape[0]
    m = 2 * half + 1
    out = np.empty((n, m), dtype=np.float32)
    values = np.empty(m)
    for i in range(n):
        fill_profile(plane, centres[i], steps[i], half, coefficients, surface, values)
        out[i] = values
    return out
