"""Clouds of the paper in the margin, told from the light by their width: how far neighbouring places are alike.

Light varies over the whole sheet and clouds over millimetres, so both leave their mark on the likelihood of the margin:
`told_clouds` takes the clouds that make it largest when every surface that light may have is averaged over (restricted
likelihood; Patterson and Thompson 1971). Their covariance then says how much the margin knows about the light.
"""

from itertools import chain
from typing import NamedTuple

import numpy as np

from proofkit.arrays import Floats, Numbers, Points
from proofkit.reflectance.kernels import whitened
from proofkit.reflectance.surface_kernels import square_sums
from proofkit.threads import each_in_order

SIDE_BLOCKS, CELLS_MOST = 8, 200
"""Squares of so many blocks along a side carry the margin, larger ones where there would be more than so many: the cost
grows with the third power of their number."""

WIDER = 1.3
"""Growth of the squares until there are few enough. [-]"""

CELLS_MIN = 20
"""Fewest squares that tell clouds; with fewer `COMMON_SD` and `COMMON_REACH` are taken."""

REACHES = (3.0, 5.0, 8.0, 12.0, 18.0)
"""Reaches tried. [block]"""

STRENGTHS = (0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.55, 0.75, 1.0)
"""Standard deviations tried, against that of single blocks. [-]"""


class Clouds(NamedTuple):
    """Places as far apart as d are alike by ``sd**2 * exp(-d**2 / (2 * reach**2))``."""

    sd: float
    """[log level]"""
    reach: float
    """[as the places]"""


COMMON_SD, COMMON_REACH = 0.003, 8.0
"""Clouds where a margin is too small to tell: 0.3 % of the level, and so many blocks, 3 to 5 mm (common practice)."""


class Cells(NamedTuple):
    """Squares of blocks of bare paper."""

    uv: Points
    """(n, 2) mean places of their blocks."""
    level: Floats
    """(n,) means of log level."""
    counts: Numbers
    """(n,) blocks of each."""


def cells_of(uv: Points, log_level: Floats, spacing: float) -> Cells:
    """Return the squares of blocks at places (n, 2) with log levels (n,); narrow margins fill them in part."""
    side = float(SIDE_BLOCKS)
    while len(uv) > CELLS_MOST * (side + 1) ** 2:  # no square holds more
        side *= WIDER
    while True:
        counts, sums = square_sums(uv, log_level, side * spacing)
        if len(counts) <= CELLS_MOST:
            break
        side *= WIDER
    means = sums / counts[:, None]
    return Cells(means[:, :2], means[:, 2], counts)


def covariance(cells: Cells, clouds: Clouds, sigma: float) -> Floats:
    """Return the (n, n) covariance of the squares' levels: clouds, and what single blocks scatter by. [log level²]"""
    return clouds.sd**2 * _alike(cells.uv, clouds.reach) + np.diag(sigma**2 / cells.counts)


def told_clouds(cells: Cells, design: Floats, spread: Floats, sigma: float, spacing: float) -> Clouds:
    """Return the clouds under which a margin is most likely.

    Parameters
    ----------
    cells : Cells
    design : Floats
        (n, terms) values of the terms of the light at the squares.
    spread : Floats
        (terms,) how large each term may be; infinite for one of any size. [log level]
    sigma : float
        Scatter of single blocks. [log level]
    spacing : float
        Distance of neighbouring blocks. [as the places]
    """
    if len(cells.level) < CELLS_MIN:
        return Clouds(COMMON_SD, COMMON_REACH * spacing)
    level = cells.level - cells.level.mean()
    sized = design * np.where(np.isfinite(spread), spread, 1.0)
    light = np.einsum("ik,jk->ij", sized, sized)
    grain = np.diag(sigma**2 / cells.counts)

    def of_reach(reach: float) -> list[tuple[float, Clouds]]:
        alike = _alike(cells.uv, reach * spacing)
        return [
            (
                _log_likelihood(light + grain + (strength * sigma) ** 2 * alike, level),
                Clouds(strength * sigma, reach * spacing),
            )
            for strength in STRENGTHS
        ]

    none = _log_likelihood(light + grain, level), Clouds(0.0, REACHES[0] * spacing)
    told = [none, *chain.from_iterable(each_in_order(of_reach, REACHES))]
    return max(told, key=lambda entry: entry[0])[1]


def _alike(uv: Points, reach: float) -> Floats:
    """Return how alike places are, 0 to 1. Shape (n, n)."""
    apart = ((uv[:, None] - uv[None]) ** 2).sum(axis=-1)
    return np.asarray(np.exp(-apart / (2 * reach**2)))


def _log_likelihood(matrix: Floats, values: Floats) -> float:
    """Return the log likelihood of normal values of a covariance, less a constant."""
    white, half_log = whitened(matrix, values[:, None])
    return float(-0.5 * np.sum(white**2) - half_log)
