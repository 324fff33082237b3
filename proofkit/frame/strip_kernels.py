"""Compiled loops over strips across the sheet: their means from the plane, and where they leave quiet paper."""

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Picture, Plane
from proofkit.scan.compiling import kernel

Counts: TypeAlias = npt.NDArray[np.uint32]

FULL_OUT, NOTICED = 5.0, 1.5
"""A departure from paper counts from the second on, and wholly from the first. [standard deviations of paper]"""
LONG = 0.7
"""Share that a departure seen over a longer way may reach: it finds the faintest steps, but less sharply. [-]"""
RESTLESS, GIVEN_UP = 1.8, 2.0
"""Paper outside is quiet up to the first, and counts for nothing from so much more on. [typical unrest]"""


@kernel
def strip_means(
    plane: Plane, first: int, last: int, thin: tuple[int, int], wide: tuple[int, int]
) -> tuple[Picture, Picture]:
    """Return means of flat blocks and of upright ones, both from one look at the plane.

    Parameters
    ----------
    plane : (h, w)
    first, last : int
        Which upright blocks are looked at, one at least, and with them the flat ones that begin beside them, or below
        the last of all. [blocks]
    thin, wide : (rows, columns)
        Sides of the blocks [px]: flat ones are ``thin[0] x wide[1]``, upright ones ``wide[0] x thin[1]``. Sums of a
        block stay below 2**32 as it has fewer than 65 536 px.

    Returns
    -------
    flat, upright : (flat rows, flat columns), (upright rows, upright columns)
        Of the rows asked for; what does not fill a block is left out.
    """
    height, columns = plane.shape
    across, along = columns // wide[1], columns // thin[1]
    begin = -(-first * wide[0] // thin[0])
    end = -(-last * wide[0] // thin[0])
    if last == height // wide[0] or end > height // thin[0]:
        end = height // thin[0]
    flat = np.empty((end - begin, across), np.float32)
    upright = np.empty((last - first, along), np.float32)
    total = np.empty(columns, np.uint32)
    tall = np.empty(columns, np.uint32)
    for i in range(first, last):
        tall[:] = 0
        row = i * wide[0]
        while row < (i + 1) * wide[0]:
            group, is_begun = row // thin[0], row % thin[0] > 0
            if not is_begun and group < end:
                _sums_of_rows(plane, row, thin[0], total)
                _means(total, wide[1], thin[0], flat[group - begin])
            if not is_begun and group < end and row + thin[0] <= (i + 1) * wide[0]:
                for j in range(columns):
                    tall[j] += total[j]
                row += thin[0]
            else:
                seen = plane[row]
                for j in range(columns):
                    tall[j] += seen[j]
                row += 1
        _means(tall, thin[1], wide[0], upright[i - first])
    for group in range(-(-last * wide[0] // thin[0]), end):
        _sums_of_rows(plane, group * thin[0], thin[0], total)
        _means(total, wide[1], thin[0], flat[group - begin])
    return flat, upright


@kernel
def _sums_of_rows(plane: Plane, first: int, count: int, total: Counts) -> None:
    """Put the sums of some rows, column by column, into `total`."""
    one = plane[first]
    if count == 1:
        for j in range(total.size):
            total[j] = one[j]
        return
    two = plane[first + 1]
    for j in range(total.size):
        total[j] = np.uint32(one[j]) + np.uint32(two[j])
    for r in range(first + 2, first + count):
        row = plane[r]
        for j in range(total.size):
            total[j] += row[j]


@kernel
def _means(total: Counts, size: int, rows: int, out: Picture) -> None:
    """Put the means of so many columns of sums, each of so many rows, into `out`."""
    for n in range(out.size):
        whole = np.uint32(0)
        for j in range(n * size, (n + 1) * size):
            whole += total[j]
        out[n] = whole / (rows * size)


@kernel
def _rms(values: Picture, first: int, last: int) -> float:
    """Return the root of the mean square of some values of a row."""
    total = 0.0
    for j in range(first, last):
        total += float(values[j]) ** 2
    return float(np.sqrt(total / (last - first)))


@kernel
def departures(
    density: Picture, reach: tuple[int, int, int], local: int, tolerance: float, some: int
) -> tuple[Picture, Picture, Picture, Picture]:
    """Return how strips (n, m) of density leave the paper that lies before each place.

    Parameters
    ----------
    density : (n, m)
        Above rough paper; held on beyond its borders. [D]
    reach : (far, near, inside)
        The paper lies from `far` to `near` samples before a place, film up to `inside` after it.
    local : int
        Half the window in which departures of paper are typical. [samples]
    tolerance : float
        Paper is no farther than this from rough paper. [D]
    some : int
        One place in so many tells what is typical.

    Returns
    -------
    short, long, unrest : (n, m)
        How far two samples, and the film, are off the paper before them; the paper's scatter, -1 where there is none.
        [D]
    typical : (k, 3)
        Scatter of the paper and rms of short and long about some places that have paper before them. [D]
    """
    n, m = density.shape
    far, near, inside = reach
    pad = far + 1
    size = m + pad + inside + 2
    held = np.empty(size)
    sums, squares = np.zeros(size + 1), np.zeros(size + 1)
    short, long, unrest = np.empty_like(density), np.empty_like(density), np.empty_like(density)
    typical = np.empty((n * m // some + 1, 3), np.float32)
    told = 0
    paper = far - near + 1
    for i in range(n):
        row, a, b, quiet = density[i], short[i], long[i], unrest[i]
        for j in range(pad, pad + m):
            held[j] = row[j - pad]
        held[:pad] = held[pad]
        held[pad + m :] = held[pad + m - 1]
        for j in range(size):
            sums[j + 1] = sums[j] + held[j]
            squares[j + 1] = squares[j] + held[j] * held[j]
        for j in range(m):
            k = j + pad
            level = (sums[k - near + 1] - sums[k - far]) / paper
            spread = (squares[k - near + 1] - squares[k - far]) / paper - level * level
            a[j] = abs((sums[k + 2] - sums[k]) / 2.0 - level)
            b[j] = abs((sums[k + inside + 1] - sums[k + 1]) / inside - level)
            quiet[j] = np.sqrt(max(spread, 0.0)) if abs(level) < tolerance and j >= far else -1.0
        for j in range((-i * m) % some, m, some):
            if quiet[j] >= 0.0:
                first, last = max(j - local, 0), min(j + local + 1, m)
                typical[told, 0] = quiet[j]
                typical[told, 1] = _rms(a, first, last)
                typical[told, 2] = _rms(b, first, last)
                told += 1
    return short, long, unrest, typical[:told]


@kernel
def joined_evidence(
    short: Picture,
    long: Picture,
    unrest: Picture,
    typical: tuple[float, float, float],
    within: int,
    join: tuple[int, int],
) -> Picture:
    """Return evidence 0 to 1 of departures (n, m) from quiet paper, on joined strips and samples.

    `typical` is of unrest, short and long; a short departure counts up to `within` samples ahead. Of `join` strips the
    mean is taken and of samples the largest, as evidence is wider than that.
    """
    strips, samples = short.shape[0] // join[0], short.shape[1] // join[1]
    m = samples * join[1]
    evidence = np.zeros((strips, samples), np.float32)
    seen, ahead = np.empty(short.shape[1] + within, np.float32), np.empty(m, np.float32)
    one, none = np.float32(1.0), np.float32(0.0)
    of_unrest, of_short, of_long = (
        np.float32(1.0 / typical[0]),
        np.float32(1.0 / typical[1]),
        np.float32(1.0 / typical[2]),
    )
    step, least = np.float32(1.0 / (FULL_OUT - NOTICED)), np.float32(NOTICED)
    restless, fade, share = np.float32(RESTLESS), np.float32(1.0 / GIVEN_UP), np.float32(LONG / join[0])
    part = np.float32(1.0 / join[0])
    for i in range(strips * join[0]):
        a, b, quiet, out = short[i], long[i], unrest[i], evidence[i // join[0]]
        for j in range(a.size):
            seen[j] = min(max((a[j] * of_short - least) * step, none), one) * part
        seen[a.size :] = seen[a.size - 1]
        for j in range(m):
            ahead[j] = min(max((b[j] * of_long - least) * step, none), one) * share
        for k in range(within):
            for j in range(m):
                ahead[j] = max(ahead[j], seen[j + k])
        for j in range(m):
            even = one - min(max((quiet[j] * of_unrest - restless) * fade, none), one)
            ahead[j] = ahead[j] * even if quiet[j] >= none else none
        for j in range(samples):
            most = none
            for k in range(j * join[1], (j + 1) * join[1]):
                most = max(most, ahead[k])
            out[j] += most
    return evidence
