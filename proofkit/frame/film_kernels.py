"""Compiled loops over the stretches of an edge on which film may begin."""

import numpy as np

from proofkit.arrays import Floats, Numbers
from proofkit.frame.smoothing import correlated
from proofkit.scan.compiling import kernel

WAVE_MM = 0.03
"""Standard deviation of what is left of an edge's place beside a course of second order. [mm]"""
FLOOR_MM = 0.004
"""Standard deviation of a place that noise does not explain: flanks of bands. [mm]"""


@kernel
def sums_along(table: Floats, offsets: Numbers, first: int, last: int) -> Floats:
    """Return the sums over the rows of a table (n, m), each row read at its own offset: (courses, last - first).

    Parameters
    ----------
    table : (n, m)
    offsets : (courses, n) int
        How far to the right each row is read on each course. [columns]
    first, last : int
        Columns that are asked for, the last not included; beyond the table its border goes on.
    """
    n, m = table.shape
    out = np.zeros((offsets.shape[0], last - first))
    for course in range(offsets.shape[0]):
        for row in range(n):
            off = offsets[course, row]
            for column in range(first, last):
                out[course, column - first] += table[row, min(max(column + off, 0), m - 1)]
    return out


@kernel
def at(row: Floats, first: float, pitch: float, place: float) -> float:
    """Return a row of values (m,) between its samples, which begin at `first`; held beyond its ends."""
    off = min(max((place - first) / pitch, 0.0), row.size - 1.0)
    low = min(int(off), row.size - 2)
    return float(row[low] + (off - low) * (row[low + 1] - row[low]))


@kernel
def along(table: Floats, first: float, pitch: float, course: Floats) -> Floats:
    """Return a table's (n, m) values on a course (n,), one of each row. (n,)"""
    found = np.empty(course.size)
    for i in range(course.size):
        found[i] = at(table[i], first, pitch, course[i])
    return found


@kernel
def resampled(table: Floats, first: float, pitch: float, places: Floats) -> Floats:
    """Return rows (n, m) of a table at places (k,) between its samples. (n, k)"""
    found = np.empty((table.shape[0], places.size))
    for i in range(table.shape[0]):
        for k in range(places.size):
            found[i, k] = at(table[i], first, pitch, places[k])
    return found


@kernel
def heights_of(profiles: Floats, weights: Floats, most: float) -> Floats:
    """Return the correlation of each row (n, m), cut at `most`, with weights; beyond the ends lies nothing. (n, m)"""
    found = np.empty_like(profiles)
    for i in range(profiles.shape[0]):
        found[i] = correlated(np.minimum(profiles[i], most), weights)
    return found


@kernel
def _put(ordered: Floats, count: int, value: float) -> None:
    """Put a value into the first `count` of a row, which are in order."""
    k = count
    while k > 0 and ordered[k - 1] > value:
        ordered[k] = ordered[k - 1]
        k -= 1
    ordered[k] = value


@kernel
def _replace(ordered: Floats, old: float, new: float) -> None:
    """Replace a value of a row that is in order by another."""
    k = np.searchsorted(ordered, old)
    while k + 1 < ordered.size and ordered[k + 1] < new:
        ordered[k] = ordered[k + 1]
        k += 1
    while k > 0 and ordered[k - 1] > new:
        ordered[k] = ordered[k - 1]
        k -= 1
    ordered[k] = new


@kernel
def ranked(table: Floats, window: tuple[int, int], rank: int, span: tuple[int, int]) -> Floats:
    """Return the value of a rank, 0 for the least, in windows about the values of a table (n, m), held on at borders.

    Windows have an odd number of rows; of an even number of columns one more lies before the middle than after it.
    Columns from the first of `span` to before the last are looked at. (n, k)
    """
    rows, columns = window
    n, m = table.shape
    found = np.empty((n, span[1] - span[0]))
    ordered = np.empty(rows * columns)
    for i in range(n):
        first, last = i - rows // 2, i + rows // 2 + 1
        count = 0
        for r in range(first, last):
            row = table[min(max(r, 0), n - 1)]
            for c in range(span[0] - columns // 2, span[0] - columns // 2 + columns):
                _put(ordered, count, row[min(max(c, 0), m - 1)])
                count += 1
        found[i, 0] = ordered[rank]
        for k in range(1, found.shape[1]):
            leaves = span[0] + k - 1 - columns // 2
            for r in range(first, last):
                row = table[min(max(r, 0), n - 1)]
                old = row[min(max(leaves, 0), m - 1)]
                _replace(ordered, old, row[min(max(leaves + columns, 0), m - 1)])
            found[i, k] = ordered[rank]
    return found


@kernel
def near_course(
    tables: tuple[Floats, Floats],
    grid: tuple[float, float],
    course: Floats,
    size: int,
    told: tuple[float, float],
) -> tuple[Floats, Floats]:
    """Return how far from a course some neighbouring stretches have their step, and the standard uncertainty. [mm]

    The film's height is held at what it is on the course; the wave of the edge is a normal one. Infinite where these
    stretches show no step of such a height.

    Parameters
    ----------
    tables : (n, m), (n, m)
        Height of the step by least squares, times the film's [D²], and height of the film inside a place. [D]
    grid : (first, pitch)
        Of the places of the tables. [mm]
    course : (n,)
        [mm]
    size : int
        Stretches that are read together.
    told : (share, variance)
        Part of the film that the step makes [-], and variance of a height. [D²]

    Returns
    -------
    shift, u : (n // size,)
    """
    first, pitch = grid
    share, variance = told
    blocks = course.size // size
    shift, uncertain = np.zeros(blocks), np.full(blocks, np.inf)
    tried = np.linspace(-3.0, 3.0, 61) * WAVE_MM
    for k in range(blocks):
        likely, against = -0.5 * (tried / WAVE_MM) ** 2, 0.0
        for i in range(k * size, (k + 1) * size):
            film = tables[1][i]
            here = share * at(film, first, pitch, course[i])
            height = tables[0][i] / np.maximum(film, 1e-9)
            for j in range(tried.size):
                likely[j] += here * at(height, first, pitch, course[i] + tried[j]) / variance
            against += 0.5 * here**2 / variance
        if likely.max() < against:
            continue
        chance = np.exp(likely - likely.max())
        chance /= chance.sum()
        mean = (chance * tried).sum()
        shift[k] = mean
        uncertain[k] = np.sqrt((chance * (tried - mean) ** 2).sum() + FLOOR_MM**2)
    return shift, uncertain
