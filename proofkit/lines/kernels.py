"""Compiled loops of the line finder."""

import numpy as np

from proofkit.arrays import Floats, Index, Ink, Mask, Numbers, Picture
from proofkit.scan.compiling import kernel


@kernel
def keep_stronger(
    answer: Picture,
    finer: Picture,
    valley_share: np.float32,
    finer_share: np.float32,
    best: Picture,
    valley: Picture,
) -> None:
    """Take one direction's answers of a level into the `best` and the lowest (`valley`) of the levels so far.

    An answer counts where no level sees a valley deeper than `valley_share` of it, and where it is more than
    `finer_share` of the strongest answer near by on the levels before (`finer`).
    """
    for y in range(answer.shape[0]):
        for x in range(answer.shape[1]):
            here = answer[y, x]
            lowest = min(valley[y, x], here)
            valley[y, x] = lowest
            if lowest > -valley_share * here and here > finer_share * finer[y, x] and here > best[y, x]:
                best[y, x] = here


@kernel
def collect_ridges(answers: Picture, threshold: np.float32) -> Floats:
    """Return (n, 4) x, y, direction, strength of points greatest across the line and among directions."""
    directions, h, w = answers.shape
    found = np.empty((1024, 4))
    count = 0
    step = np.pi / directions
    for y in range(2, h - 2):
        for x in range(2, w - 2):
            for k in range(directions):
                here = answers[k, y, x]
                if here < threshold:
                    continue
                before = answers[(k - 1) % directions, y, x]
                after = answers[(k + 1) % directions, y, x]
                if here < before or here <= after:
                    continue
                bend = before - 2.0 * here + after
                turn = 0.5 * (before - after) / bend if bend < 0.0 else 0.0
                angle = (k + turn) * step
                nx = -np.sin(angle)
                ny = np.cos(angle)
                up = _bilinear(answers[k], y + ny, x + nx)
                down = _bilinear(answers[k], y - ny, x - nx)
                if here < up or here <= down:
                    continue
                curve = up - 2.0 * here + down
                shift = 0.5 * (down - up) / curve if curve < 0.0 else 0.0
                if count == found.shape[0]:
                    wider = np.empty((2 * count, 4))
                    wider[:count] = found
                    found = wider
                found[count, 0] = x + shift * nx
                found[count, 1] = y + shift * ny
                found[count, 2] = angle % np.pi
                found[count, 3] = here
                count += 1
    return found[:count].copy()


@kernel
def _bilinear(image: Picture | Ink, y: float, x: float) -> float:
    j = int(np.floor(y))
    i = int(np.floor(x))
    b = y - j
    a = x - i
    upper: float = (1 - a) * image[j, i] + a * image[j, i + 1]
    lower: float = (1 - a) * image[j + 1, i] + a * image[j + 1, i + 1]
    return (1 - b) * upper + b * lower


@kernel
def _angle_between(a: float, b: float) -> float:
    """Return the angle between two line directions, 0 to pi/2."""
    d = abs(a - b) % np.pi
    return min(d, np.pi - d)


@kernel
def _bucket(x: Floats, y: Floats, h: int, w: int) -> tuple[Numbers, Numbers]:
    """Return first point of each pixel and the next point in the same pixel, -1 for none."""
    first = np.full((h, w), -1, dtype=np.int32)
    follow = np.full(x.size, -1, dtype=np.int32)
    for i in range(x.size):
        column = int(round(x[i]))
        row = int(round(y[i]))
        follow[i] = first[row, column]
        first[row, column] = i
    return first, follow


@kernel
def _take_beside(
    i: int, x: Floats, y: Floats, direction: Floats, first: Numbers, follow: Numbers, taken: Mask
) -> None:
    """Mark as taken the points that say the same line again beside point `i`."""
    h, w = first.shape
    column = int(round(x[i]))
    row = int(round(y[i]))
    tx = np.cos(direction[i])
    ty = np.sin(direction[i])
    for r in range(max(row - 2, 0), min(row + 3, h)):
        for c in range(max(column - 2, 0), min(column + 3, w)):
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
    ends = min(_bilinear(ink, ay, ax), _bilinear(ink, by, bx))
    least = floor + 0.5 * (ends - floor)
    for k in range(1, 6):
        t = k / 6.0
        if _bilinear(ink, ay + t * (by - ay), ax + t * (bx - ax)) < least:
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
    reach = int(np.ceil(gap)) + 1
    column = int(round(px))
    row = int(round(py))
    for r in range(max(row - reach, 0), min(row + reach + 1, h)):
        for c in range(max(column - reach, 0), min(column + reach + 1, w)):
            j = first[r, c]
            while j >= 0:
                if not taken[j]:
                    dx = x[j] - px
                    dy = y[j] - py
                    along = dx * tx + dy * ty
                    across = abs(dy * tx - dx * ty)
                    turn = _angle_between(heading, direction[j])
                    limit = 0.45 if along < 2.5 else 0.30
                    if 0.3 < along <= gap and across <= 0.35 + 0.30 * along and turn < limit:
                        value = along + 3.0 * across + 2.0 * turn
                        if value < cost and (along < 1.6 or _is_dark_between(px, py, x[j], y[j], ink, floor)):
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
