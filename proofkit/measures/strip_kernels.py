"""Compiled search for straight strips of cells, and counting along one of them."""

import numpy as np

from proofkit.arrays import Floats, Mask, Numbers, Points
from proofkit.scan.compiling import kernel


@kernel
def strip_counts(points: Points, sine: float, cosine: float, width: float) -> tuple[float, Floats]:
    """Return where the first strip of a direction begins, and how many points lie in each; six more are empty.

    Parameters
    ----------
    points : (n, 2)
        n > 0. [mm]
    sine, cosine : float
        Of the direction along the strips.
    width : float
        Of a strip. [mm]
    """
    across = np.empty(points.shape[0])
    low, high = np.inf, -np.inf
    for k in range(points.shape[0]):
        across[k] = points[k, 0] * sine - points[k, 1] * cosine
        low, high = min(low, across[k]), max(high, across[k])
    counts = np.zeros(int((high - low) / width) + 7)
    for k in range(points.shape[0]):
        counts[int((across[k] - low) / width)] += 1.0
    return low, counts


@kernel
def fullest_strip(
    points: Points, sine: float, cosine: float, width: float, beside: int
) -> tuple[float, float]:
    """Return by how much the fullest strip of a direction stands out from those `beside` strips away, and its middle.

    Other parameters are those of `strip_counts`. The first is in standard deviations of chance, the second the
    distance of its middle from the origin. [mm]
    """
    low, counts = strip_counts(points, sine, cosine, width)
    best, at = -np.inf, 0
    for k in range(counts.size):
        near = (counts[k - beside] + counts[(k + beside) % counts.size]) / 2.0
        score = (counts[k] - near) / np.sqrt(near + 2.0)
        if score > best:
            best, at = score, k
    return best, low + (at + 0.5) * width


@kernel
def strip_sums(
    columns: Numbers, rows: Numbers, sine: float, cosine: float, values: Floats
) -> tuple[Floats, Floats]:
    """Return number and sum of the values (n,) of cells in each strip, a cell wide, at right angles to (sine, cosine).

    `columns` and `rows` (n,), n > 0, are the places of the cells; strips are counted from the first that holds one.
    """
    low, high = np.inf, -np.inf
    for k in range(values.size):
        place = columns[k] * sine + rows[k] * cosine
        low, high = min(low, place), max(high, place)
    size = int(np.rint(high - low)) + 1
    number, total = np.zeros(size), np.zeros(size)
    for k in range(values.size):
        strip = int(np.rint(columns[k] * sine + rows[k] * cosine - low))
        number[strip] += 1.0
        total[strip] += values[k]
    return number, total


@kernel
def strip_power(
    columns: Numbers, rows: Numbers, sine: float, cosine: float, values: Floats, fewest: int, variance: float
) -> float:
    """Return the mean square of the means of strips, less `variance` over their numbers of cells, on average.

    Strips as for `strip_sums`, those of `fewest` cells and more; squares count by the number of cells. 0 where there
    are fewer than `fewest` such strips.
    """
    number, total = strip_sums(columns, rows, sine, cosine, values)
    many, cells, squares, shares = 0, 0.0, 0.0, 0.0
    for k in range(number.size):
        if number[k] >= fewest:
            many += 1
            cells += number[k]
            squares += total[k] * total[k] / number[k]
            shares += 1.0 / number[k]
    return squares / cells - variance * shares / many if many >= fewest else 0.0


@kernel
def counts_along(
    start: Floats,
    direction: Floats,
    steps: Floats,
    along: Floats,
    over: Floats,
    pitch: float,
    masks: tuple[Mask, Mask, Mask],
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return how many cells each step of a strip holds of three masks, and how many lie on the plate. (n,) each.

    Parameters
    ----------
    start, direction : (2,)
        The strip runs along `direction` through `start`; its normal is the direction turned, (y, -x). [mm]
    steps : (n,)
        Where each step begins. [mm]
    along, over : (m,), (k,)
        Places of cells in a step, along and across. [mm]
    pitch : float
        Side of a cell. [mm]
    masks : three of (rows, columns) bool
    """
    one, two, three = masks
    rows, columns = one.shape
    counts = np.zeros((4, steps.size))
    for n in range(steps.size):
        for a in range(along.size):
            for b in range(over.size):
                x = start[0] + (steps[n] + along[a]) * direction[0] + over[b] * direction[1]
                y = start[1] + (steps[n] + along[a]) * direction[1] + over[b] * -direction[0]
                column, row = int(np.rint(x / pitch)), int(np.rint(y / pitch))
                if 0 <= row < rows and 0 <= column < columns:
                    counts[0, n] += one[row, column]
                    counts[1, n] += two[row, column]
                    counts[2, n] += three[row, column]
                    counts[3, n] += 1.0
    return counts[0], counts[1], counts[2], counts[3]


@kernel
def longest_filled(hits: Mask, share: float) -> tuple[int, int]:
    """Return first and last of the longest run with at least `share` of hits, (0, 0) for none longer than one.

    That is the longest step from a new low of the running sum of ``hit - share`` to a point not below it.
    """
    sums = np.zeros(hits.size + 1)
    for k in range(hits.size):
        sums[k + 1] = sums[k] + ((1.0 if hits[k] else 0.0) - share)
    best = (0, 0)
    lowest = np.inf
    for start in range(hits.size):
        if sums[start] >= lowest:
            continue
        lowest = sums[start]
        end = hits.size
        while end > start + best[1] - best[0] + 1 and sums[end] < sums[start]:
            end -= 1
        if end > start + best[1] - best[0] + 1:
            best = (start, end - 1)
    return best
