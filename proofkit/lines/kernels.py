"""Compiled loops of the line finder."""

import numpy as np

from proofkit.scan.compiling import kernel


@kernel
def collect_ridges(answers, threshold):  # type: ignore[no-untyped-def]
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
def _bilinear(image, y, x):  # type: ignore[no-untyped-def]
    j = int(np.floor(y))
    i = int(np.floor(x))
    b = y - j
    a = x - i
    return (1 - b) * ((1 - a) * image[j, i] + a * image[j, i + 1]) + b * (
        (1 - a) * image[j + 1, i] + a * image[j + 1, i + 1]
    )


@kernel
def _angle_between(a, b):  # type: ignore[no-untyped-def]
    """Return the angle between two line directions, 0 to pi/2."""
    d = abs(a - b) % np.pi
    return min(d, np.pi - d)


@kernel
def _bucket(x, y, h, w):  # type: ignore[no-untyped-def]
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
def _take_beside(i, x, y, direction, first, follow, taken):  # type: ignore[no-untyped-def]
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
def _is_dark_between(ax, ay, bx, by, ink, floor):  # type: ignore[no-untyped-def]
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
def _next_point(px, py, heading, x, y, direction, first, follow, taken, gap, ink, floor):  # type: ignore[no-untyped-def]
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
def _walk(start, heading, x, y, direction, first, follow, taken, gap, ink, floor, path):  # type: ignore[no-untyped-def]
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
def link_points(x, y, direction, order, ink, gap, floor):  # type: ignore[no-untyped-def]
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


@kernel
def _cubic_weights(t, weights):  # type: ignore[no-untyped-def]
    """Fill the four weights of cubic convolution (Keys 1981, a = -1/2) at a fraction `t` of a pixel."""
    weights[0] = ((-0.5 * t + 1.0) * t - 0.5) * t
    weights[1] = (1.5 * t - 2.5) * t * t + 1.0
    weights[2] = ((-1.5 * t + 2.0) * t + 0.5) * t
    weights[3] = (0.5 * t - 0.5) * t * t


@kernel
def sample_profiles(plane, centres, steps, half, coefficients, surface):  # type: ignore[no-untyped-def]
    """Return (n, 2 half + 1) reflectance against paper along `steps` through `centres`; NaN outside."""
    h, w = plane.shape
    n = centres.shape[0]
    m = 2 * half + 1
    out = np.empty((n, m), dtype=np.float32)
    wx = np.empty(4)
    wy = np.empty(4)
    for i in range(n):
        length = np.sqrt(steps[i, 0] ** 2 + steps[i, 1] ** 2)
        tx = -steps[i, 1] / length * 0.7
        ty = steps[i, 0] / length * 0.7
        u = (centres[i, 0] - surface[0]) / surface[2]
        v = (centres[i, 1] - surface[1]) / surface[2]
        log_level = 0.0
        for a in range(3):
            for b in range(3 - a):
                log_level += coefficients[a, b] * u**a * v**b
        gain = 1.0 / (3.0 * 65535.0 * np.exp(log_level))
        for k in range(m):
            x = centres[i, 0] + (k - half) * steps[i, 0]
            y = centres[i, 1] + (k - half) * steps[i, 1]
            total = 0.0
            inside = True
            for side in range(-1, 2):
                px = x + side * tx
                py = y + side * ty
                column = int(np.floor(px))
                row = int(np.floor(py))
                if column < 1 or row < 1 or column >= w - 2 or row >= h - 2:
                    inside = False
                    break
                _cubic_weights(px - column, wx)
                _cubic_weights(py - row, wy)
                for r in range(4):
                    line = 0.0
                    for c in range(4):
                        line += wx[c] * plane[row - 1 + r, column - 1 + c]
                    total += wy[r] * line
            out[i, k] = total * gain if inside else np.nan
    return out


@kernel
def _cells(x, y, cell_mm):  # type: ignore[no-untyped-def]
    """Return row and column of each point's cell, the first point of each cell and the next in the same cell."""
    n = x.size
    left = np.floor(x.min() / cell_mm) if n else 0.0
    top = np.floor(y.min() / cell_mm) if n else 0.0
    columns = int(np.floor(x.max() / cell_mm) - left) + 1 if n else 1
    rows = int(np.floor(y.max() / cell_mm) - top) + 1 if n else 1
    first = np.full((rows, columns), -1, dtype=np.int32)
    follow = np.full(n, -1, dtype=np.int32)
    row = np.empty(n, dtype=np.int32)
    column = np.empty(n, dtype=np.int32)
    for i in range(n):
        row[i] = int(np.floor(y[i] / cell_mm) - top)
        column[i] = int(np.floor(x[i] / cell_mm) - left)
        follow[i] = first[row[i], column[i]]
        first[row[i], column[i]] = i
    return row, column, first, follow


@kernel
def parallel_neighbours(x, y, nx, ny, line, cell_mm, reach_mm, parallel_sine):  # type: ignore[no-untyped-def]
    """Return (n, 2) distance to the nearest line running beside, at the negative and positive side, and its point.

    Distances are in mm, infinite for none within `reach_mm`; point numbers are -1 for none.
    """
    n = x.size
    row, column, first, follow = _cells(x, y, cell_mm)
    rows, columns = first.shape
    side = np.full((n, 2), np.inf)
    side_point = np.full((n, 2), -1, dtype=np.int32)
    cells = int(np.ceil(reach_mm / cell_mm))
    for i in range(n):
        for r in range(max(row[i] - cells, 0), min(row[i] + cells + 1, rows)):
            for c in range(max(column[i] - cells, 0), min(column[i] + cells + 1, columns)):
                j = first[r, c]
                while j >= 0:
                    dx = x[j] - x[i]
                    dy = y[j] - y[i]
                    across = dx * nx[i] + dy * ny[i]
                    along = dx * ny[i] - dy * nx[i]
                    if abs(along) < 0.09 and 0.04 < abs(across) < reach_mm:
                        sine = abs(nx[i] * ny[j] - ny[i] * nx[j])
                        if sine < parallel_sine and (line[j] != line[i] or abs(across) > 0.15):
                            k = 1 if across > 0 else 0
                            if abs(across) < side[i, k]:
                                side[i, k] = abs(across)
                                side_point[i, k] = j
                    j = follow[j]
    return side, side_point


@kernel
def crossing_skew(x, y, nx, ny, cell_mm, reach_mm, parallel_sine):  # type: ignore[no-untyped-def]
    """Return (n,) the slope, along per across, of the nearest line that crosses each point's line; 0 for none.

    A profile read along the crossing line's direction keeps its distance from that line and its neighbours.
    """
    n = x.size
    row, column, first, follow = _cells(x, y, cell_mm)
    rows, columns = first.shape
    skew = np.zeros(n)
    cells = int(np.ceil(reach_mm / cell_mm))
    for i in range(n):
        nearest = reach_mm
        for r in range(max(row[i] - cells, 0), min(row[i] + cells + 1, rows)):
            for c in range(max(column[i] - cells, 0), min(column[i] + cells + 1, columns)):
                j = first[r, c]
                while j >= 0:
                    run_across = ny[j] * nx[i] - nx[j] * ny[i]
                    if abs(run_across) >= parallel_sine:
                        dx = x[j] - x[i]
                        dy = y[j] - y[i]
                        across = dx * nx[i] + dy * ny[i]
                        if abs(across) <= 0.09 * abs(run_across) + 0.01:
                            slope = (ny[j] * ny[i] + nx[j] * nx[i]) / run_across
                            along = dx * ny[i] - dy * nx[i] - across * slope
                            distance = abs(along * run_across)
                            if distance < nearest:
                                nearest = distance
                                skew[i] = slope
                    j = follow[j]
    return skew


@kernel
def crossing_clearance(x, y, nx, ny, skew, left_mm, right_mm, cell_mm, reach_mm, parallel_sine):  # type: ignore[no-untyped-def]
    """Return (n,) distance from each profile to the nearest line that comes beside it, and that line's point.

    The profile runs from ``-left_mm`` to ``right_mm`` across, leaning by `skew`. [mm], infinite for none.
    """
    n = x.size
    row, column, first, follow = _cells(x, y, cell_mm)
    rows, columns = first.shape
    clear = np.full(n, np.inf)
    clear_point = np.full(n, -1, dtype=np.int32)
    cells = int(np.ceil(reach_mm / cell_mm))
    for i in range(n):
        sine = 1.0 / np.sqrt(1.0 + skew[i] * skew[i])
        for r in range(max(row[i] - cells, 0), min(row[i] + cells + 1, rows)):
            for c in range(max(column[i] - cells, 0), min(column[i] + cells + 1, columns)):
                j = first[r, c]
                while j >= 0:
                    run_across = ny[j] * nx[i] - nx[j] * ny[i]
                    if abs(run_across) >= parallel_sine:
                        dx = x[j] - x[i]
                        dy = y[j] - y[i]
                        across = dx * nx[i] + dy * ny[i]
                        along = dx * ny[i] - dy * nx[i] - across * skew[i]
                        run_along = ny[j] * ny[i] + nx[j] * nx[i] - run_across * skew[i]
                        # The line runs on for half a point spacing both ways; take the part beside the profile.
                        u0 = (-left_mm[i] - across) / run_across
                        u1 = (right_mm[i] - across) / run_across
                        low = max(min(u0, u1), -0.08)
                        high = min(max(u0, u1), 0.08)
                        if low <= high:
                            a0 = along + low * run_along
                            a1 = along + high * run_along
                            distance = 0.0 if a0 * a1 < 0.0 else min(abs(a0), abs(a1)) * sine
                            if distance < clear[i]:
                                clear[i] = distance
                                clear_point[i] = j
                    j = follow[j]
    return clear, clear_point


@kernel
def overruled_by_two(x, y, nx, ny, strength, cell_mm, reach_mm, stronger, apart_sine):  # type: ignore[no-untyped-def]
    """Return (n,) whether much stronger lines of two other directions lie within `reach_mm` of each point."""
    n = x.size
    row, column, first, follow = _cells(x, y, cell_mm)
    rows, columns = first.shape
    result = np.zeros(n, dtype=np.bool_)
    cells = int(np.ceil(reach_mm / cell_mm))
    for i in range(n):
        one = -1
        for r in range(max(row[i] - cells, 0), min(row[i] + cells + 1, rows)):
            for c in range(max(column[i] - cells, 0), min(column[i] + cells + 1, columns)):
                j = first[r, c]
                while j >= 0 and not result[i]:
                    near = (x[j] - x[i]) ** 2 + (y[j] - y[i]) ** 2 < reach_mm**2
                    turned = abs(nx[i] * ny[j] - ny[i] * nx[j]) > apart_sine
                    if near and turned and strength[j] > stronger * strength[i]:
                        if one < 0:
                            one = j
                        elif abs(nx[one] * ny[j] - ny[one] * nx[j]) > apart_sine:
                            result[i] = True
                    j = follow[j]
    return result
