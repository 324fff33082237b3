"""Compiled loops over lines that stand near each other, sorted into cells."""

import numpy as np

from proofkit.arrays import Floats, Mask, Numbers, Points
from proofkit.scan.compiling import kernel


@kernel
def sort_into_cells(x: Floats, y: Floats, cell_mm: float) -> tuple[Numbers, Numbers, Numbers, Numbers]:
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
def parallel_neighbours(
    x: Floats,
    y: Floats,
    nx: Floats,
    ny: Floats,
    line: Numbers,
    cell_mm: float,
    reach_mm: float,
    parallel_sine: float,
) -> tuple[Floats, Numbers]:
    """Return (n, 2) distance to the nearest line running beside, at the negative and positive side, and its point.

    Distances are in mm, infinite for none within `reach_mm`; point numbers are -1 for none.
    """
    n = x.size
    row, column, first, follow = sort_into_cells(x, y, cell_mm)
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
def crossing_skew(
    x: Floats, y: Floats, nx: Floats, ny: Floats, cell_mm: float, reach_mm: float, parallel_sine: float
) -> Floats:
    """Return (n,) the slope, along per across, of the nearest line that crosses each point's line; 0 for none.

    A profile read along the crossing line's direction keeps its distance from that line and its neighbours.
    """
    n = x.size
    row, column, first, follow = sort_into_cells(x, y, cell_mm)
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
def crossing_clearance(
    x: Floats,
    y: Floats,
    nx: Floats,
    ny: Floats,
    skew: Floats,
    left_mm: Floats,
    right_mm: Floats,
    cell_mm: float,
    reach_mm: float,
    parallel_sine: float,
) -> tuple[Floats, Numbers]:
    """Return (n,) distance from each profile to the nearest line that comes beside it, and that line's point.

    The profile runs from ``-left_mm`` to ``right_mm`` across, leaning by `skew`. [mm], infinite for none.
    """
    n = x.size
    row, column, first, follow = sort_into_cells(x, y, cell_mm)
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
def course_across(
    points_mm: Points, normals: Points, line: Numbers, index: Numbers, of: Numbers, beside: int
) -> tuple[Floats, Numbers]:
    """Return where straight lines meet the normals of points `index` (k,), told from these along them, and of how many.

    Each is laid through the point of the same place in `of` (k,) and up to `beside` points of its line to both sides
    of it. [mm]
    """
    n, size = index.size, line.size
    meets = np.empty(n)
    count = np.empty(n, dtype=np.int32)
    for i in range(n):
        x, y = points_mm[index[i], 0], points_mm[index[i], 1]
        nx, ny = normals[index[i], 0], normals[index[i], 1]
        low = high = of[i]
        while low > 0 and of[i] - low < beside and line[low - 1] == line[of[i]]:
            low -= 1
        while high + 1 < size and high - of[i] < beside and line[high + 1] == line[of[i]]:
            high += 1
        total = total_along = total_across = 0.0
        for j in range(low, high + 1):
            dx, dy = points_mm[j, 0] - x, points_mm[j, 1] - y
            total += 1.0
            total_along += dx * ny - dy * nx
            total_across += dx * nx + dy * ny
        middle_along, middle_across = total_along / total, total_across / total
        spread = both = 0.0
        for j in range(low, high + 1):
            dx, dy = points_mm[j, 0] - x, points_mm[j, 1] - y
            along = dx * ny - dy * nx - middle_along
            spread += along * along
            both += along * (dx * nx + dy * ny)
        meets[i] = middle_across - both / max(spread, 1e-12) * middle_along
        count[i] = high + 1 - low
    return meets, count


@kernel
def overruled_by_two(
    x: Floats,
    y: Floats,
    nx: Floats,
    ny: Floats,
    strength: Floats,
    cell_mm: float,
    reach_mm: float,
    stronger: float,
    apart_sine: float,
) -> Mask:
    """Return (n,) whether much stronger lines of two other directions lie within `reach_mm` of each point."""
    n = x.size
    row, column, first, follow = sort_into_cells(x, y, cell_mm)
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
