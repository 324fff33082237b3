"""Compiled work on one chain of ridge points: where the line ends, whether it is one, evenly spaced points on it."""

import numpy as np

from proofkit.arrays import Floats, Ink, Points
from proofkit.scan.compiling import kernel

STEP_PX = 0.5
"""Steps in which the end of a line is looked for. [px]"""

PATH_STEP_PX = 0.7
"""Steps in which a path is looked at. [px]"""

INNER = 4
"""The direction of a line's end is told by so many ridge points."""

PALE_PERCENT = 30
"""The palest third of a line runs between the lines that cross it. [%]"""


@kernel
def smoothed(x: Floats, y: Floats, half_width: int) -> Points:
    """Return (n, 2) points smoothed by a moving average that narrows towards the ends."""
    n = x.size
    out = np.empty((n, 2))
    for i in range(n):
        reach = min(i, n - 1 - i, half_width)
        out[i, 0] = x[i - reach : i + reach + 1].mean()
        out[i, 1] = y[i - reach : i + reach + 1].mean()
    return out


@kernel
def _ink_at(ink: Ink, x: float, y: float) -> float:
    """Return the ink at a place, linear between pixels, the border's outside the picture. [codes]"""
    h, w = ink.shape
    x = min(max(x, 0.0), w - 1.0)
    y = min(max(y, 0.0), h - 1.0)
    i = min(int(x), w - 2) if w > 1 else 0
    j = min(int(y), h - 2) if h > 1 else 0
    a, b = x - i, y - j
    right, below = min(i + 1, w - 1), min(j + 1, h - 1)
    upper = (1.0 - a) * ink[j, i] + a * ink[j, right]
    lower = (1.0 - a) * ink[below, i] + a * ink[below, right]
    return float((1.0 - b) * upper + b * lower)


@kernel
def _end_moved(points: Points, ink: Ink, floor: float, reach: float) -> Points:
    """Return a line whose first end lies where its ink falls to half of what it has a little further in."""
    h, w = ink.shape
    inner = min(INNER, len(points) - 1)
    x0, y0 = points[inner]
    hx, hy = points[0, 0] - x0, points[0, 1] - y0
    length = np.sqrt(hx * hx + hy * hy)
    hx, hy = hx / max(length, 1e-9), hy / max(length, 1e-9)
    count = int(np.ceil((length + reach) / STEP_PX))
    dark = np.empty(count)
    for k in range(count):
        x, y = x0 + STEP_PX * k * hx, y0 + STEP_PX * k * hy
        # Beyond the picture there is no ink: a line that runs off it ends at its border.
        outside = x < 0.0 or y < 0.0 or x > w - 1 or y > h - 1
        dark[k] = 0.0 if outside else _ink_at(ink, x, y) - floor
    half = 0.5 * np.median(dark[:5])
    pale = -1
    for k in range(count):
        if dark[k] < half:
            pale = k
            break
    if pale <= 0 or len(points) - inner < 2:
        return points
    moved = np.empty((len(points) - inner + 2, 2))
    for row, k in enumerate((pale - 1, pale // 2)):
        moved[row, 0] = x0 + STEP_PX * k * hx
        moved[row, 1] = y0 + STEP_PX * k * hy
    moved[2:] = points[inner:]
    return moved


@kernel
def to_its_ends(points: Points, ink: Ink, floor: float, reach: float) -> Points:
    """Return a line that ends where its ink falls to half of what it has a little further in.

    Ridges of fine lines run over the end by part of the filter's length, those of broad lines stop short of it.
    """
    moved = _end_moved(points, ink, floor, reach)
    moved = _end_moved(np.ascontiguousarray(moved[::-1]), ink, floor, reach)
    return np.ascontiguousarray(moved[::-1])


@kernel
def places_along(points: Points) -> Floats:
    """Return (n,) length of the line up to each of its points."""
    place = np.zeros(len(points))
    for i in range(1, len(points)):
        dx, dy = points[i, 0] - points[i - 1, 0], points[i, 1] - points[i - 1, 1]
        place[i] = place[i - 1] + np.sqrt(dx * dx + dy * dy)
    return place


@kernel
def rise(points: Points, ink: Ink, floor: float, offsets: Floats) -> float:
    """Return how much darker a line's palest third is than its sides, `offsets` px beside it, as a share of its ink.

    The diagonals of cross-hatching and rows of line ends are dark only where real lines pass; between those they
    run through white gaps, where both sides are as dark or darker. A real line is palest between its crossings,
    and there it stands out from its ground.
    """
    place = places_along(points)
    count = int(np.ceil(place[-1] / PATH_STEP_PX))
    if count < 2:
        return 0.0
    wanted = np.arange(count) * PATH_STEP_PX
    x = np.interp(wanted, place, np.ascontiguousarray(points[:, 0]))
    y = np.interp(wanted, place, np.ascontiguousarray(points[:, 1]))
    here = np.empty(count)
    for k in range(count):
        here[k] = _ink_at(ink, x[k], y[k]) - floor
    limit = np.percentile(here, PALE_PERCENT)
    rises = np.empty(count)
    pale = 0
    for k in range(count):
        if here[k] > limit:
            continue
        before, after = max(k - 1, 0), min(k + 1, count - 1)
        tx, ty = x[after] - x[before], y[after] - y[before]
        length = max(np.sqrt(tx * tx + ty * ty), 1e-9)
        nx, ny = -ty / length, tx / length
        least = np.inf
        for offset in offsets:
            one = _ink_at(ink, x[k] + offset * nx, y[k] + offset * ny)
            other = _ink_at(ink, x[k] - offset * nx, y[k] - offset * ny)
            least = min(least, (one + other) / 2.0 - floor)
        rises[pale] = here[k] - least
        pale += 1
    return float(np.median(rises[:pale])) / max(float(np.median(here)), 1e-9)


@kernel
def spaced(points: Points, spacing: float) -> tuple[Points, Points]:
    """Return points about every `spacing` along a line, at least one, and the unit normals there. (n, 2) each."""
    place = places_along(points)
    length = place[-1]
    count = max(int(np.rint(length / spacing)), 1)
    wanted = (np.arange(count) + 0.5) * (length / count)
    x, y = np.ascontiguousarray(points[:, 0]), np.ascontiguousarray(points[:, 1])
    ahead = np.minimum(wanted + spacing / 2, length)
    behind = np.maximum(wanted - spacing / 2, 0.0)
    tx = np.interp(ahead, place, x) - np.interp(behind, place, x)
    ty = np.interp(ahead, place, y) - np.interp(behind, place, y)
    size = np.maximum(np.sqrt(tx * tx + ty * ty), 1e-12)
    at = np.empty((count, 2))
    normals = np.empty((count, 2))
    at[:, 0] = np.interp(wanted, place, x)
    at[:, 1] = np.interp(wanted, place, y)
    normals[:, 0] = -ty / size
    normals[:, 1] = tx / size
    return at, normals
