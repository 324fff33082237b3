"""Compiled reading of profiles across lines, in a scan's own pixels."""

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats, Picture, Plane, Points
from proofkit.reflectance.kernels import level_at
from proofkit.scan.compiling import kernel

Starts = npt.NDArray[np.uint64]
"""Where the sixteen pixels of each reading begin in a plane."""

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
def room_for(samples: int) -> tuple[Starts, Picture]:
    """Return working memory for profiles of at most so many samples."""
    return np.empty(3 * samples, dtype=np.uint64), np.empty((9, 3 * samples), dtype=np.float32)


@kernel
def fill_profile(
    plane: Plane,
    centre: Floats,
    step: Floats,
    half: int,
    coefficients: Floats,
    surface: Floats,
    room: tuple[Starts, Picture],
    out: Floats,
) -> None:
    """Write into `out` the 2 half + 1 values of R/Rp along `step` through `centre`; NaN outside the scan.

    `surface` is x0, y0 and scale of a `Paper`, whose level is taken at the centre; `room` is from `room_for`.
    """
    h, w = plane.shape
    length = np.sqrt(step[0] ** 2 + step[1] ** 2)
    beside = (-step[1] / length * BESIDE_PX, step[0] / length * BESIDE_PX)
    level = level_at(coefficients, surface[0], surface[1], surface[2], centre[0], centre[1])
    gain = 1.0 / (3.0 * 65535.0 * level)
    wide, high = abs(beside[0]) + 1.0, abs(beside[1]) + 1.0
    reach_x, reach_y = half * abs(step[0]) + wide, half * abs(step[1]) + high
    if reach_x <= centre[0] < w - 1 - reach_x and reach_y <= centre[1] < h - 1 - reach_y:
        begin = (centre[0] - half * step[0], centre[1] - half * step[1])
        _fill_within(plane, begin, step, beside, 2 * half + 1, room, out)
        for k in range(2 * half + 1):
            out[k] *= gain
        return
    for k in range(2 * half + 1):
        x = centre[0] + (k - half) * step[0]
        y = centre[1] + (k - half) * step[1]
        if x < wide or y < high or x + wide >= w - 1 or y + high >= h - 1:
            out[k] = np.nan
        else:
            tx, ty = beside
            total = _cubic(plane, x - tx, y - ty) + _cubic(plane, x, y) + _cubic(plane, x + tx, y + ty)
            out[k] = total * gain


@kernel
def _fill_within(
    plane: Plane,
    begin: tuple[float, float],
    step: Floats,
    beside: tuple[float, float],
    m: int,
    room: tuple[Starts, Picture],
    out: Floats,
) -> None:
    """Write sums of three readings beside each other, all of which lie on the scan, as `_cubic` reads them.

    Weights of all readings are worked out first, side by side, in 32 bit floats of places that are counted from a pixel
    nearby: right to some 1e-6 of a reading.
    """
    starts, table = room
    width = plane.shape[1]
    half, one, two, more = np.float32(0.5), np.float32(1.0), np.float32(2.0), np.float32(1.5)
    for side in range(3):
        x0, y0 = begin[0] + (side - 1) * beside[0], begin[1] + (side - 1) * beside[1]
        base_x, base_y = np.floor(min(x0, x0 + (m - 1) * step[0])), np.floor(min(y0, y0 + (m - 1) * step[1]))
        first = np.int64(base_y - 1.0) * width + np.int64(base_x - 1.0)
        from_x, from_y = np.float32(x0 - base_x), np.float32(y0 - base_y)
        dx, dy = np.float32(step[0]), np.float32(step[1])
        for k in range(m):
            n = side * m + k
            x, y = from_x + np.float32(k) * dx, from_y + np.float32(k) * dy
            column, row = np.int32(x), np.int32(y)
            starts[n] = first + np.int64(row) * width + np.int64(column)
            t = x - np.float32(column)
            table[0, n] = ((-half * t + one) * t - half) * t
            table[1, n] = (more * t - two - half) * t * t + one
            table[2, n] = ((-more * t + two) * t + half) * t
            table[3, n] = (half * t - half) * t * t
            t = y - np.float32(row)
            table[4, n] = ((-half * t + one) * t - half) * t
            table[5, n] = (more * t - two - half) * t * t + one
            table[6, n] = ((-more * t + two) * t + half) * t
            table[7, n] = (half * t - half) * t * t
    flat = plane.reshape(-1)
    across, next_one = np.uint64(width), np.uint64(1)
    for n in range(3 * m):
        p = starts[n]
        a, b, c, d = table[0, n], table[1, n], table[2, n], table[3, n]
        total = np.float32(0.0)
        for r in range(4, 8):
            q = p + next_one
            s = q + next_one
            line = a * np.float32(flat[p]) + b * np.float32(flat[q])
            line += c * np.float32(flat[s]) + d * np.float32(flat[s + next_one])
            total += table[r, n] * line
            p += across
        table[8, n] = total
    for k in range(m):
        out[k] = float(table[8, k]) + table[8, m + k] + table[8, 2 * m + k]


@kernel
def sample_profiles(
    plane: Plane, centres: Points, steps: Points, half: int, coefficients: Floats, surface: Floats
) -> Picture:
    """Return (n, 2 half + 1) reflectance against paper along `steps` through `centres`; NaN outside."""
    n = centres.shape[0]
    m = 2 * half + 1
    out = np.empty((n, m), dtype=np.float32)
    values, room = np.empty(m), room_for(m)
    for i in range(n):
        fill_profile(plane, centres[i], steps[i], half, coefficients, surface, room, values)
        out[i] = values
    return out
