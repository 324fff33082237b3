"""How well the unevenness of a film is known, whose cells are not independent of each other."""

import numpy as np

from proofkit.arrays import Floats
from proofkit.measures.sampling import u_robust_spread
from proofkit.measures.uncertainty import combined

MOST_ALIKE = 0.95
"""Neighbours are taken to be correlated by no more than this: one cell would else stand for all. [-]"""

NEIGHBOURS_MIN = 10
"""Fewest pairs of neighbours that tell how alike they are; with fewer they count as independent."""


def alike_beside(cells: Floats) -> float:
    """Return how far cells are correlated with the next one in rows and columns, 0 to `MOST_ALIKE`.

    Parameters
    ----------
    cells : Floats
        (rows, columns), NaN where not known.

    Notes
    -----
    Quadrant correlation: neighbours lie on one side of the median more often than not by ``2 / pi asin(rho)``
    (Sheppard 1899, bivariate normal values; from memory). Stray cells count no more than others.
    """
    known = np.isfinite(cells)
    if not known.any():
        return 0.0
    # Signs in bytes: there are ten thousands of cells, and their products are summed only.
    side = np.where(known, np.where(cells > np.median(cells[known]), 1, -1), 0).astype(np.int8)
    products = side[:, 1:] * side[:, :-1], side[1:] * side[:-1]
    pairs = sum(np.count_nonzero(one) for one in products)
    if pairs < NEIGHBOURS_MIN:
        return 0.0
    agree = sum(int(one.sum(dtype=np.int64)) for one in products)
    return float(np.clip(np.sin(np.pi / 2 * agree / pairs), 0.0, MOST_ALIKE))


def independent(count: int, alike: float) -> float:
    """Return how many independent cells tell as much of a spread as so many whose neighbours are correlated.

    The variance of a mean square grows by the sum of squared correlations (Bayley and Hammersley 1946; from memory);
    where these fall off as ``alike ** (rows + columns apart)`` it is ``((1 + r) / (1 - r))²`` with ``r = alike²``. A
    robust spread of normal values needs less, but the strength of paper's grain wanders as fibres lie: between squares
    of 12 mm of a drawn felt spreads scatter by 3.2 %, where this says 3.3 and normal values would have 2.8.
    """
    r = alike**2
    return count * ((1 - r) / (1 + r)) ** 2


def u_fine_spread(cells: Floats, spread: float) -> float:
    """Return the standard uncertainty of the robust `spread` of small cells of film, paper grain included. [D]"""
    return u_robust_spread(spread, independent(int(np.isfinite(cells).sum()), alike_beside(cells)))


def u_course_spread(cells: Floats, spread: float, clouds: float) -> float:
    """Return the standard uncertainty of the robust `spread` of cells about their plane. [D]

    Parameters
    ----------
    cells : Floats
        (rows, columns) density above the plane, NaN where not known. [D]
    spread : float
        Of all of them. [D]
    clouds : float
        Standard deviation of bare paper between cells, told in the margin; 0 where it is not known. [D]

    Notes
    -----
    How the film itself runs is no uncertainty: a paper with other grain and clouds under it would move the spread by
    less. Of a spread ``t² = f² + s²``, noise s of n independent cells moves t² with variance ``(2 s⁴ + 4 f² s²) / n``.
    Noise is what neighbours differ by, and clouds; that is why neighbours are alike only as far as clouds say so. Noise
    that goes along with the film's own course counts in full, so its correlations are summed, not their squares.
    """
    count, alike = int(np.isfinite(cells).sum()), alike_beside(cells)
    noise = 1.0
    if clouds > 0 and spread > 0:
        single, cloudy = 1 - alike, (clouds / spread) ** 2
        noise = min(1.0, single + cloudy)
        alike = min(alike, cloudy / (single + cloudy))
    along_course = count * ((1 - alike) / (1 + alike)) ** 2
    return combined(
        u_robust_spread(spread * noise, independent(count, alike)),
        u_robust_spread(spread * float(np.sqrt(2 * noise * (1 - noise))), along_course),
    )
