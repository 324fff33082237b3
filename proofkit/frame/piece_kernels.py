"""Compiled loops over pieces of an edge: their level, their median by blocks, and the marks on these."""

import numpy as np

from proofkit.arrays import Floats
from proofkit.frame.medians import median, median_of, median_profile, put_in_order
from proofkit.frame.profile import read_mark
from proofkit.frame.sharp import StepFilter
from proofkit.scan.compiling import kernel
from proofkit.scatter import MEDIAN_FACTOR, OF_MEDIAN

PAPER_QUANTILE = 0.3
"""Of the densities outside: a little below the median, as writing on the margin is darker than paper. [-]"""
LEAST_NOISE = 5e-5
"""No profile is less noisy. [D]"""


@kernel
def levelled(density: Floats, halves: tuple[int, int, int]) -> tuple[Floats, Floats, int]:
    """Return profiles (n, m) above their own paper, the level (n,) of that, and which half of the outside it is.

    Halves go from the first of three samples to the second and from there to the third. The paper is taken from the one
    whose median profile varies less, as the other may hold writing. A level is the lower quantile of a row, raised by
    what the quantile lies below most rows' medians.
    """
    n, m = density.shape
    half, least = 0, np.inf
    for k in range(2):
        middle = median_profile(density[:, halves[k] : halves[k + 1]].copy())
        spread = middle.std() if middle.size else np.inf
        if spread < least:
            half, least = k, spread
    first, last = halves[half], halves[half + 1]
    low, below = np.empty(n), np.empty(n)
    for i in range(n):
        ordered = density[i, first:last].copy()
        put_in_order(ordered, 0, ordered.size - 1)
        low[i] = ordered[int(PAPER_QUANTILE * ordered.size)]
        below[i] = ordered[ordered.size // 2] - low[i]
    outside = low + median(below)
    above = np.empty((n, m))
    for i in range(n):
        for k in range(m):
            above[i, k] = density[i, k] - outside[i]
    return above, outside, half


@kernel
def scatter_in(density: Floats, middle: Floats, first: int, last: int) -> float:
    """Return the robust scatter of pieces (n, m) about their middle (m,), each one's own level taken off. [D]

    Of the samples from `first` to before `last`; NaN where there are none: a mark at the end of the profiles has
    nothing beyond it.
    """
    if last <= first:
        return np.nan
    size = last - first
    rest, row = np.empty(density.shape[0] * size), np.empty(size)
    for i in range(density.shape[0]):
        for k in range(size):
            row[k] = density[i, first + k] - middle[first + k]
            rest[i * size + k] = row[k]
        level = median_of(row)
        for k in range(i * size, (i + 1) * size):
            rest[k] = abs(rest[k] - level)
    return float(OF_MEDIAN * median_of(rest))


@kernel
def noise_of_median(density: Floats, middle: Floats, first: int, last: int) -> float:
    """Return the standard deviation of the median of pieces (n, m), told from their bare paper. [D]

    From the pieces' scatter about their median; that of a median of n normal values is `MEDIAN_FACTOR` times
    their standard deviation over the root of n (textbook). Not less than what is seen along the median itself.
    """
    of_pieces = float(MEDIAN_FACTOR * scatter_in(density, middle, first, last) / np.sqrt(density.shape[0]))
    return max(of_pieces, float(middle[first:last].std()), LEAST_NOISE)


@kernel
def block_medians(density: Floats, size: int) -> Floats:
    """Return the median profiles of so many neighbouring pieces (n, m) at a time, (n // size, m)."""
    blocks = density.shape[0] // size
    middles = np.empty((blocks, density.shape[1]))
    column = np.empty(size)
    for k in range(blocks):
        for j in range(density.shape[1]):
            for i in range(size):
                column[i] = density[k * size + i, j]
            middles[k, j] = median_of(column)
    return middles


@kernel
def marks_on_blocks(
    density: Floats, size: int, paper: tuple[int, int], t_mm: Floats, search_mm: float, steps: StepFilter
) -> tuple[Floats, Floats]:
    """Return the marks on the medians of so many neighbouring pieces at a time, and these medians.

    Parameters
    ----------
    density : (n, m)
        Of pieces above their paper. [D]
    size : int
        Pieces of a block.
    paper : (first, last)
        Samples that are bare paper.
    t_mm, search_mm, steps
        See `profile.read_mark`.

    Returns
    -------
    reads, middles : (n // size, 7), (n // size, m)
        Numbers of a `ReadMark` each.
    """
    middles = block_medians(density, size)
    reads = np.empty((len(middles), 7))
    for k in range(len(middles)):
        noise = noise_of_median(density[k * size : (k + 1) * size], middles[k], paper[0], paper[1])
        read = read_mark(middles[k], t_mm, noise, search_mm, steps)
        reads[k, 0], reads[k, 1], reads[k, 2] = read.kind, read.place_mm, read.u_mm
        reads[k, 3], reads[k, 4], reads[k, 5] = read.strength, read.outward_mm, read.inward_mm
        reads[k, 6] = read.inside
    return reads, middles
