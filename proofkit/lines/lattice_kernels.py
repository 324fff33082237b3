"""Compiled loops over lines that cross in a lattice."""

import numpy as np

from proofkit.arrays import Floats, Numbers
from proofkit.lines.nearness_kernels import sort_into_cells
from proofkit.scan.compiling import kernel

_MOST = 4096
"""Crossings of one line that are kept; a line of 150 mm through hatching of 0.1 mm has 3000."""


@kernel
def _nearest(ux: Floats, uy: Floats, k: int, step: int, apart_sine: float, flat_sine: float) -> int:
    """Return the nearest crossing before or after crossing k by a line at a flat angle to k's; -1 for none."""
    m = k + step
    while 0 <= m < ux.size:
        if apart_sine < abs(ux[k] * uy[m] - uy[k] * ux[m]) < flat_sine:
            return m
        m += step
    return -1


@kernel
def lattice_phase(
    x: Floats,
    y: Floats,
    nx: Floats,
    ny: Floats,
    line: Numbers,
    strength: Floats,
    cell_mm: float,
    half_step_mm: float,
    stronger: float,
    apart_sine: float,
    flat_sine: float,
) -> tuple[Floats, Numbers]:
    """Return (lines,) how lines of two directions follow each other along each line, and at how many crossings.

    At each crossing by a line of one direction the place between the two nearest lines of the other direction is taken
    as a phase; its cosine is averaged: 1 where both always cross in one place, -1 where they alternate evenly, near 0
    where they drift past each other. Only lines stronger than `stronger` times the crossed one count, and pairs of
    them whose directions differ by an angle between the two sines. Points of a line follow each other, two
    `half_step_mm` apart.
    """
    n = x.size
    row, column, first, follow = sort_into_cells(x, y, cell_mm)
    rows, columns = first.shape
    count = int(line[n - 1]) + 1 if n else 0
    phase = np.zeros(count)
    told = np.zeros(count, dtype=np.int32)
    cells = int(np.ceil(2 * half_step_mm / cell_mm))
    at = np.empty(_MOST)
    ux = np.empty(_MOST)
    uy = np.empty(_MOST)
    begin = 0
    while begin < n:
        end = begin
        found = 0
        while end < n and line[end] == line[begin]:
            i = end
            for r in range(max(row[i] - cells, 0), min(row[i] + cells + 1, rows)):
                for c in range(max(column[i] - cells, 0), min(column[i] + cells + 1, columns)):
                    j = first[r, c]
                    while j >= 0:
                        # Tangents are (ny, -nx); where they meet, along the one from i and along the other from j.
                        sine = ny[i] * nx[j] - nx[i] * ny[j]
                        if abs(sine) > apart_sine and strength[j] > stronger * strength[i] and found < _MOST:
                            dx = x[j] - x[i]
                            dy = y[j] - y[i]
                            along = (dx * nx[j] + dy * ny[j]) / sine
                            along_other = (dx * nx[i] + dy * ny[i]) / sine
                            if abs(along) <= half_step_mm and abs(along_other) <= half_step_mm:
                                at[found] = 2 * half_step_mm * (i - begin) + along
                                ux[found] = nx[j]
                                uy[found] = ny[j]
                                found += 1
                        j = follow[j]
            end += 1
        order = np.argsort(at[:found])
        s, vx, vy = at[:found][order], ux[:found][order], uy[:found][order]
        total = 0.0
        number = 0
        for k in range(found):
            before = _nearest(vx, vy, k, -1, apart_sine, flat_sine)
            after = _nearest(vx, vy, k, 1, apart_sine, flat_sine)
            if before >= 0 and after >= 0 and s[after] > s[before]:
                total += np.cos(2 * np.pi * (s[k] - s[before]) / (s[after] - s[before]))
                number += 1
        told[line[begin]] = number
        phase[line[begin]] = total / number if number else 0.0
        begin = end
    return phase, told
