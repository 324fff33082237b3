"""A smooth surface of log level fitted to scattered blocks, with what little is known of lamps where there are none."""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Mask, Numbers, Points
from proofkit.reflectance.kernels import whitened
from proofkit.reflectance.paper_clouds import Clouds, cells_of, covariance, told_clouds
from proofkit.reflectance.surface_kernels import square_sums, surface_at
from proofkit.scatter import robust_sd

UNEVENNESS = (np.inf, 0.05, 0.05, 0.02, 0.02)
"""Expected size of the terms of each order of the illumination over one `scale_px`: scanners and copy stands in order
differ by a few percent across a sheet, and smoothly. Common practice. [log level]"""

MOSTLY = 0.2
"""Most terms are smaller than this share of `UNEVENNESS`, some are not: heavy tails (Cauchy's law). [-]"""

ALIKE = 0.02
"""The light on two scans of one edition differs by about this share, as they come from one scanner. [-]"""

ODDS_OF_ALIKE = 20.0
"""One sheet in so many is taken to lie otherwise on the bed, or to be scanned under another light. [-]"""

TURNS = 12
"""Turns of telling the size of each term and fitting anew; more change nothing that matters."""

UNEVENNESS_OF_PAPER = 5e-4
"""Standard uncertainty that no number of blocks takes away: paper has clouds as wide as a margin. [log level]"""

BLOCKS_FOR_ROUGH = 5000
"""About so many blocks make a surface from which strays are told."""

ROUNDS = 4
"""Fits with blocks left out anew; the fourth changes nothing that matters."""

CLOUD_SIGMAS = 4.0
"""Blocks farther off are specks, not clouds."""

CLOUD_BLOCKS_MIN, CLOUD_CELLS_MIN = 4, 20
"""Fewest blocks of a square that counts, and fewest squares: their spread is then known to a sixth."""


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """Polynomial of log level in u, v from the middle of the plate, all terms up to an order."""

    order: int
    coefficients: Floats
    """(terms,), in the order of `powers`. [log level]"""
    covariance: Floats
    """(terms, terms) of the coefficients, correlation of the paper included."""
    sigma: float
    """Robust scatter of single blocks about the surface. [log level]"""
    clouds: Clouds
    """Of the paper."""


def powers(order: int) -> list[tuple[int, int]]:
    """Return the exponents of u and v of the terms up to an order.

    >>> powers(1)
    [(0, 0), (1, 0), (0, 1)]
    """
    return [(total - j, j) for total in range(order + 1) for j in range(total + 1)]


def design(uv: Points, order: int) -> Floats:
    """Return the (n, terms) values of the terms at normalised places (n, 2)."""
    u, v = _powers_of(uv[:, 0], order), _powers_of(uv[:, 1], order)
    terms = np.empty((len(uv), len(powers(order))))
    for term, (i, j) in enumerate(powers(order)):
        np.multiply(u[i], v[j], out=terms[:, term])
    return terms


def _powers_of(values: Floats, order: int) -> Floats:
    """Return ``values ** n`` for n from 0 to `order`. Shape (order + 1, n)."""
    table = np.ones((order + 1, values.size))
    for n in range(1, order + 1):
        np.multiply(table[n - 1], values, out=table[n])
    return table


def fit_surface(
    uv: Points, log_level: Floats, *, spacing: float, order: int = 4, like: Surface | None = None
) -> Surface:
    """Return the surface through blocks of bare paper.

    Parameters
    ----------
    uv : Points
        (n, 2) places of the blocks, from the middle of the plate, `scale_px` = 1. [-]
    log_level : Floats
        (n,) natural logarithm of the block means. [-]
    spacing : float
        Distance of neighbouring blocks, to judge how alike they are. [as `uv`]
    order : int, default 4
        Highest order of the polynomial, 1 to 4.
    like : Surface, optional
        Of the same order, of another scan that was probably taken under the same light, on like paper.

    Returns
    -------
    Surface

    Notes
    -----
    Generalised least squares of the means of squares of blocks, which are alike where clouds of the paper reach over
    them (`paper_clouds`), with a prior of `UNEVENNESS` on every term but the constant, so that a margin on one side
    only gives a level with an honest uncertainty instead of a wild extrapolation, and that the uncertainty inside the
    plate counts how little a margin says about the middle. How even the light is in fact is left to the blocks, see
    `MOSTLY`. Against another scan the light is the same but for `ALIKE`, or it is not; both are weighed by how
    likely they make the margin. Blocks beyond three robust standard deviations are left out symmetrically: a mean of
    linear light stays a mean.
    """
    if like is not None:
        log_level = log_level - predicted(like, uv)
    some = some_of(np.arange(len(uv)))
    rough = rough_surface(uv[some], log_level[some], order=order)
    off = log_level - predicted(rough, uv)
    sigma = max(robust_sd(off[np.abs(off) < 3 * rough.sigma]), 1e-5)
    kept = np.abs(off) < 3 * sigma
    wide = _expected(order)
    cells = cells_of(uv[kept], log_level[kept], spacing)
    terms = design(cells.uv, order)
    clouds = told_clouds(cells, terms, wide, sigma, spacing) if like is None else like.clouds
    white, _ = whitened(covariance(cells, clouds, sigma), np.column_stack((terms, cells.level)))
    normal, right = white[:, :-1].T @ white[:, :-1], white[:, :-1].T @ white[:, -1]
    if like is None:
        coefficients, known = _weighed(normal, right, wide, MOSTLY)
    else:
        coefficients, known = _mixed(normal, right, wide)
        shape = like.covariance.copy()
        shape[0], shape[:, 0] = 0.0, 0.0
        coefficients, known = coefficients + like.coefficients, known + shape
    return Surface(order, coefficients, known, sigma, clouds)


def some_of(blocks: Numbers) -> Numbers:
    """Return about `BLOCKS_FOR_ROUGH` of the numbers of blocks, evenly chosen."""
    return blocks[:: max(1, len(blocks) // BLOCKS_FOR_ROUGH)]


def rough_surface(uv: Points, log_level: Floats, *, order: int) -> Surface:
    """Return a surface by plain least squares, as if the paper had no clouds: fit to look for more paper."""
    terms = design(uv, order)
    prior = np.diag(_expected(order) ** -2.0)
    kept = np.ones(len(uv), dtype=bool)
    sigma = max(robust_sd(log_level - np.median(log_level)), 1e-5)
    for _ in range(ROUNDS):
        normal, right = _normal_equations(terms, log_level, kept)
        known = _solve(normal / sigma**2 + prior, np.eye(len(prior)))
        coefficients = known @ right / sigma**2
        residual = log_level - terms @ coefficients
        sigma = max(robust_sd(residual[kept]), 1e-5)
        kept = np.abs(residual) < 3 * sigma
    return Surface(order, coefficients, known, sigma, Clouds(0.0, 1.0))


def _normal_equations(terms: Floats, log_level: Floats, kept: Mask) -> tuple[Floats, Floats]:
    """Return the normal equations of the blocks kept: their matrix and their right side."""
    inside = terms[kept]
    return inside.T @ inside, inside.T @ log_level[kept]


def _expected(order: int) -> Floats:
    """Return `UNEVENNESS` of each term."""
    return np.array([UNEVENNESS[i + j] for i, j in powers(order)])


def _mixed(normal: Floats, right: Floats, wide: Floats) -> tuple[Floats, Floats]:
    """Return coefficients and covariance of what is left of the light of another scan: almost nothing, or anything.

    The mean of both answers by their odds, and the covariance of that mixture.
    """
    same = _posterior(normal, right, ALIKE * wide)
    other = _weighed(normal, right, wide, ALIKE)
    gain = _log_evidence(normal, right, MOSTLY * wide) - _log_evidence(normal, right, ALIKE * wide)
    share = 1 / (1 + ODDS_OF_ALIKE * np.exp(-np.clip(gain, -50, 50)))
    mean = (1 - share) * same[0] + share * other[0]
    spread = [known + np.outer(found - mean, found - mean) for found, known in (same, other)]
    return mean, (1 - share) * spread[0] + share * spread[1]


def _log_evidence(normal: Floats, right: Floats, spread: Floats) -> float:
    """Return the log likelihood of blocks, averaged over normal priors of `spread`, less what all priors share."""
    matrix = normal + np.diag(spread**-2.0)
    finite = spread[np.isfinite(spread)]
    return float(
        0.5 * right @ _solve(matrix, right) - 0.5 * np.linalg.slogdet(matrix)[1] - np.log(finite).sum()
    )


def _weighed(normal: Floats, right: Floats, wide: Floats, mostly: float) -> tuple[Floats, Floats]:
    """Return coefficients and their covariance under a prior with heavy tails: what the blocks do not ask for is small.

    A Cauchy prior is a normal one of unknown variance; expectation of that variance and fit by turns climb to the mode
    (expectation maximisation for the t distribution with one degree of freedom).
    """
    spread = wide
    for _ in range(TURNS):
        coefficients, covariance = _posterior(normal, right, spread)
        seen = coefficients**2 + np.diag(covariance)
        spread = np.minimum(np.sqrt(((mostly * wide) ** 2 + seen) / 2), wide)
    return _posterior(normal, right, spread)


def _posterior(normal: Floats, right: Floats, spread: Floats) -> tuple[Floats, Floats]:
    """Return coefficients and their covariance where each is expected within `spread` of 0."""
    covariance = _solve(normal + np.diag(spread**-2.0), np.eye(len(spread)))
    return covariance @ right, covariance


def _solve(matrix: Floats, right: Floats) -> Floats:
    return np.asarray(np.linalg.solve(matrix, right), dtype=np.float64)


def predicted(surface: Surface, uv: Points) -> Floats:
    """Return log level of the surface at places (n, 2)."""
    return surface_at(square_of(surface), uv)


def square_of(surface: Surface) -> Floats:
    """Return the coefficients with the power of u as row and that of v as column."""
    square = np.zeros((surface.order + 1,) * 2)
    for value, place in zip(surface.coefficients, powers(surface.order), strict=True):
        square[place] = value
    return square


def uncertainty(surface: Surface, uv: Points) -> Floats:
    """Return the standard uncertainty of log level at places (n, 2); for small values that of the level, relative."""
    terms = design(uv, surface.order)
    return np.asarray(np.sqrt(np.sum(terms @ surface.covariance * terms, axis=1) + UNEVENNESS_OF_PAPER**2))


def cloudiness(surface: Surface, uv: Points, log_level: Floats, side: float) -> float:
    """Return the standard deviation of paper between squares, beyond what independent blocks would leave; 0 for few.

    Parameters
    ----------
    surface : Surface
        Fitted to the blocks.
    uv, log_level
        Of the blocks, as in `fit_surface`.
    side : float
        Of the squares. [as `uv`]
    """
    residual = log_level - predicted(surface, uv)
    kept = np.abs(residual) < CLOUD_SIGMAS * surface.sigma
    counts, sums = square_sums(uv[kept], residual[kept], side)
    full = counts >= CLOUD_BLOCKS_MIN
    if full.sum() < CLOUD_CELLS_MIN:
        return 0.0
    single = float(np.var(residual[kept])) * float(np.mean(1 / counts[full]))
    return float(np.sqrt(max(float(np.var(sums[full, 2] / counts[full])) - single, 0.0)))
