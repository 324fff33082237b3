"""Compiled linking of ridge points into chains."""

import numpy as np

from proofkit.arrays import Floats, Index, Ink, Mask, Numbers
from proofkit.lines.kernels import bilinear
from proofkit.scan.compiling import kernel


@kernel
def _angle_between(a: float, b: float) -> float:
    """Return the angle between two line directions, 0 to pi/2."""
    d = abs(a - b) % np.pi
    return min(d, np.pi - d)


@kernel
def _bucket(x: Floats, y: Floats, h: int, w: int) -> tuple[Numbers, Numbers]:
    """Return first point of each cell of two by two pixels and the next point in the same cell, -1 for none."""
    first = np.full((h // 2 + 1, w // 2 + 1), -1, dtype=np.int32)
    follow = np.full(x.size, -1, dtype=np.int32)
    for i in range(x.size):
        column = int(0.5 * x[i])
        row = int(0.5 * y[i])
        follow[i] = first[row, column]
        first[row, column] = i
    return first, follow


@kernel
def _cells(low: float, high: float, count: int) -> tuple[int, int]:
    """Return the first of the cells that hold places from `low` to `high`, and the one after the last."""
    return max(int(np.floor(0.5 * low)), 0), min(int(np.floor(0.5 * high)) + 1, count)


@kernel
def _take_beside(
    i: int, x: Floats, y: Floats, direction: Floats, first: Numbers, follow: Numbers, taken: Mask
) -> None:
    """Mark as taken the points that say the same line again beside point `i`."""
    h, w = first.shape
    tx = np.cos(direction[i])
    ty = np.sin(direction[i])
    wide, high = 0.75 * abs(tx) + 1.5 * abs(ty), 0.75 * abs(ty) + 1.5 * abs(tx)
    r0, r1 = _cells(y[i] - high, y[i] + high, h)
    c0, c1 = _cells(x[i] - wide, x[i] + wide, w)
    for r in range(r0, r1):
        for c in range(c0, c1):
            j = first[r, c]
            while j >= 0:
                dx = x[j] - x[i]
                dy = y[j] - y[i]
                along = abs(dx * tx + dy * ty)
                across = abs(dy * tx - dx * ty)
                if along < 0.75 and across < 1.5 and _angle_between(direction[i], direction[j]) < 0.5:
                    taken[j] = True
                j = follow[j]


@kernel
def _is_dark_between(ax: float, ay: float, bx: float, by: float, ink: Ink, floor: float) -> bool:
    """Return whether the picture stays dark on the way from one ridge point to another.

    Dark is at least half of what the lighter of the two ends has above the clean ground `floor`.
    """
    ends = min(bilinear(ink, ay, ax), bilinear(ink, by, bx))
    least = floor + 0.5 * (ends - floor)
    for k in range(1, 6):
        t = k / 6.0
        if bilinear(ink, ay + t * (by - ay), ax + t * (bx - ax)) < least:
            return False
    return True


@kernel
def _next_point(
    px: float,
    py: float,
    heading: float,
    x: Floats,
    y: Floats,
    direction: Floats,
    first: Numbers,
    follow: Numbers,
    taken: Mask,
    gap: float,
    ink: Ink,
    floor: float,
) -> int:
    """Return the best free point ahead within `gap` px that is reached over dark, or -1."""
    h, w = first.shape
    tx = np.cos(heading)
    ty = np.sin(heading)
    best = -1
    cost = 1e9
    # What lies ahead is a wedge; only the cells of the rectangle about it are looked through.
    near, far = 0.35 + 0.30 * 0.3, 0.35 + 0.30 * gap
    low_x = min(0.3 * tx - near * abs(ty), gap * tx - far * abs(ty))
    high_x = max(0.3 * tx + near * abs(ty), gap * tx + far * abs(ty))
    low_y = min(0.3 * ty - near * abs(tx), gap * ty - far * abs(tx))
    high_y = max(0.3 * ty + near * abs(tx), gap * ty + far * abs(tx))
    r0, r1 = _cells(py + low_y, py + high_y, h)
    c0, c1 = _cells(px + low_x, px + high_x, w)
    for r in range(r0, r1):
        for c in range(c0, c1):
            j = first[r, c]
            while j >= 0:
                if not taken[j]:
                    dx = x[j] - px
                    dy = y[j] - py
                    along = dx * tx + dy * ty
                    across = abs(dy * tx - dx * ty)
                    if 0.3 < along <= gap and across <= 0.35 + 0.30 * along:
                        turn = _angle_between(heading, direction[j])
                        limit = 0.45 if along < 2.5 else 0.30
                        value = along + 3.0 * across + 2.0 * turn
                        if (
                            turn < limit
                            and value < cost
                            and (along < 1.6 or _is_dark_between(px, py, x[j], y[j], ink, floor))
                        ):
                            cost = value
                            best = j
                j = follow[j]
    return best


@kernel
def _walk(
    start: int,
    heading: float,
    x: Floats,
    y: Floats,
    direction: Floats,
    first: Numbers,
    follow: Numbers,
    taken: Mask,
    gap: float,
    ink: Ink,
    floor: float,
    path: Index,
) -> int:
    """Follow a line from `start`; write the points into `path` and return how many."""
    count = 0
    at = start
    while True:
        nearest = _next_point(x[at], y[at], heading, x, y, direction, first, follow, taken, 2.2, ink, floor)
        if nearest < 0:
            nearest = _next_point(
                x[at], y[at], heading, x, y, direction, first, follow, taken, gap, ink, floor
            )
        if nearest < 0 or count >= path.size:
            return count
        path[count] = nearest
        count += 1
        taken[nearest] = True
        _take_beside(nearest, x, y, direction, first, follow, taken)
        turned = direction[nearest]
        if np.cos(turned - heading) < 0.0:
            turned += np.pi
        heading = turned
        at = nearest


@kernel
def link_points(
    x: Floats, y: Floats, direction: Floats, order: Index, ink: Ink, gap: float, floor: float
) -> tuple[Index, Index]:
    """Return point numbers line after line and the length of each line, strongest seeds first."""
    h, w = ink.shape
    first, follow = _bucket(x, y, h, w)
    taken = np.zeros(x.size, dtype=np.bool_)
    chain = np.empty(x.size, dtype=np.int64)
    lengths = np.empty(x.size, dtype=np.int64)
    forward = np.empty(x.size, dtype=np.int64)
    backward = np.empty(x.size, dtype=np.int64)
    used = 0
    lines = 0
    for s in order:
        if taken[s]:
            continue
        taken[s] = True
        _take_beside(s, x, y, direction, first, follow, taken)
        ahead = _walk(s, direction[s], x, y, direction, first, follow, taken, gap, ink, floor, forward)
        behind = _walk(
            s, direction[s] + np.pi, x, y, direction, first, follow, taken, gap, ink, floor, backward
        )
        start = used
        for i in range(behind):
            chain[used] = backward[behind - 1 - i]
            used += 1
        chain[used] = s
        used += 1
        for i in range(ahead):
            chain[used] = forward[i]
            used += 1
        lengths[lines] = used - start
        lines += 1
    return chain[:used].copy(), lengths[:lines].copy()
