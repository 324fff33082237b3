"""Compiled reading of profiles across lines, in a scan's own pixels."""

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats, Picture, Plane, Points
from proofkit.reflectance.kernels import level_at
from proofkit.scan.compiling import kernel

Starts = npt.NDArray[np.int32]
"""Where the sixteen pixels of each reading begin in a cut-out."""

BESIDE_PX = 0.7
"""Each sample is the mean of three readings this far apart along the line. [px]"""

PIXELS_AT_ONCE, SAMPLES_AT_ONCE = 32, 16
"""So many are worked out side by side, and what is too much left unread: nothing is left over to be done singly."""


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
def room_for(samples: int, reach_px: float) -> tuple[Picture, Starts, Picture]:
    """Return working memory for profiles of so many samples at most that reach so far to both sides of their middle."""
    side = 2 * int(np.ceil(reach_px + BESIDE_PX)) + 6
    readings = 3 * _rounded_up(samples, SAMPLES_AT_ONCE)
    window = np.empty((side, _rounded_up(side, PIXELS_AT_ONCE)), dtype=np.float32)
    return window, np.empty(readings, dtype=np.int32), np.empty((8, readings), dtype=np.float32)


@kernel
def longest_reach(steps: Points, halves: Floats) -> float:
    """Return how far the farthest of some profiles reaches to both sides, by its steps (n, 2) and their number. [px]"""
    reach = 0.0
    for i in range(halves.size):
        this = halves[i] * np.sqrt(steps[i, 0] ** 2 + steps[i, 1] ** 2)
        # Not by max, which would hand on a NaN.
        reach = this if this > reach else reach
    return reach


@kernel
def _rounded_up(number: int, unit: int) -> int:
    return (number + unit - 1) // unit * unit


@kernel
def fill_profile(
    plane: Plane,
    centre: Floats,
    step: Floats,
    half: int,
    coefficients: Floats,
    surface: Floats,
    room: tuple[Picture, Starts, Picture],
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
    within = reach_x <= centre[0] < w - 1 - reach_x and reach_y <= centre[1] < h - 1 - reach_y
    if within and w >= room[0].shape[1]:
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
    room: tuple[Picture, Starts, Picture],
    out: Floats,
) -> None:
    """Write sums of three readings beside each other, all of which lie on the scan, as `_cubic` reads them.

    The pixels are cut out as floats first, as they lie far apart in memory. Weights of all readings are worked out side
    by side, in 32 bit floats of places that are counted from the first of them: right to some 1e-6 of a reading. Parts
    of arrays would be counted as they come and go, which takes longer than what is done with them; so rows are told by
    numbers.
    """
    window, starts, table = room
    end_x, end_y = begin[0] + (m - 1) * step[0], begin[1] + (m - 1) * step[1]
    left, right = min(begin[0], end_x) - abs(beside[0]), max(begin[0], end_x) + abs(beside[0])
    top, bottom = min(begin[1], end_y) - abs(beside[1]), max(begin[1], end_y) + abs(beside[1])
    wide = _rounded_up(int(right) - int(left) + 4, PIXELS_AT_ONCE)
    corner = min(int(left) - 1, plane.shape[1] - wide), int(top) - 1
    flat = window.reshape(-1)
    _cut_out(
        plane.reshape(-1), plane.shape[1], corner, int(bottom) + 3 - corner[1], wide, flat, window.shape[1]
    )
    padded = _rounded_up(m, SAMPLES_AT_ONCE)
    for side in range(3):
        x, y = begin[0] + (side - 1) * beside[0] - corner[0], begin[1] + (side - 1) * beside[1] - corner[1]
        _place(x - 1.0, y - 1.0, step, window.shape[1], side * padded, padded, starts, table)
    across, next_one = np.uint64(window.shape[1]), np.uint64(1)
    out[:m] = 0.0
    for side in range(3):
        for k in range(m):
            n = side * padded + k
            a, b, c, d = table[0, n], table[1, n], table[2, n], table[3, n]
            p, total = np.uint64(starts[n]), np.float32(0.0)
            for r in range(4, 8):
                q = p + next_one
                s = q + next_one
                line = a * flat[p] + b * flat[q]
                line += c * flat[s] + d * flat[s + next_one]
                total += table[r, n] * line
                p += across
            out[k] += total


@kernel
def _cut_out(
    flat: Plane, width: int, corner: tuple[int, int], rows: int, wide: int, out: Picture, stride: int
) -> None:
    """Write a part of a plane of so many pixels a row into rows `stride` apart."""
    for row in range(rows):
        source, to = np.uint64((corner[1] + row) * width + corner[0]), np.uint64(row * stride)
        for k in range(wide):
            out[to + np.uint64(k)] = np.float32(flat[source + np.uint64(k)])


@kernel
def _place(
    x: float, y: float, step: Floats, wide: int, first: int, count: int, starts: Starts, table: Picture
) -> None:
    """Write where readings `step` apart begin in rows of `wide` pixels, and their weights along rows and columns.

    `x` and `y` are of the first reading, from the middle of the second pixel of the second row on; the `count`
    readings are those from `first` on in `starts` (n,) and `table` (8, n).
    """
    half, one, two, more = np.float32(0.5), np.float32(1.0), np.float32(2.0), np.float32(1.5)
    from_x, from_y, dx, dy = np.float32(x), np.float32(y), np.float32(step[0]), np.float32(step[1])
    stride = np.int32(wide)
    for k in range(count):
        n = np.uint64(first) + np.uint64(k)
        steps = np.float32(np.int32(k))
        place_x, place_y = from_x + steps * dx, from_y + steps * dy
        column, row = np.int32(place_x), np.int32(place_y)
        starts[n] = np.int32(np.int32(row * stride) + column)
        t = place_x - np.float32(column)
        table[0, n] = ((-half * t + one) * t - half) * t
        table[1, n] = (more * t - two - half) * t * t + one
        table[2, n] = ((-more * t + two) * t + half) * t
        table[3, n] = (half * t - half) * t * t
        t = place_y - np.float32(row)
        table[4, n] = ((-half * t + one) * t - half) * t
        table[5, n] = (more * t - two - half) * t * t + one
        table[6, n] = ((-more * t + two) * t + half) * t
        table[7, n] = (half * t - half) * t * t


@kernel
def sample_profiles(
    plane: Plane, centres: Points, steps: Points, half: int, coefficients: Floats, surface: Floats
) -> Picture:
    """Return (n, 2 half + 1) reflectance against paper along `steps` through `centres`; NaN outside."""
    n = centres.shape[0]
    m = 2 * half + 1
    out = np.empty((n, m), dtype=np.float32)
    values, room = np.empty(m), room_for(m, longest_reach(steps, np.full(n, float(half))))
    for i in range(n):
        fill_profile(plane, centres[i], steps[i], half, coefficients, surface, room, values)
        out[i] = values
    return out
