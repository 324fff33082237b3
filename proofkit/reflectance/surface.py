"""A smooth surface of log level fitted to scattered blocks, with what little is known of lamps where there are none."""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Mask, Points

UNEVENNESS = 0.05
"""Expected size of the slope and of the curvature of the illumination over one `scale_px`: scanners and copy stands in
order differ by a few percent across a sheet. Common practice. [log level]"""

_CELL = 8
"""Blocks along the side of a cell from which the correlation of the residuals is judged."""

_CELL_MIN = 16
"""Fewest blocks of a cell that counts."""

_CELLS_MIN = 6
"""Fewest cells for a judgement of correlation."""


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """``log level = c0 + c1 u + c2 v + c3 u² + c4 u v + c5 v²`` with u, v from the middle of the plate."""

    coefficients: Floats
    """(6,). [log level]"""
    covariance: Floats
    """(6, 6) of the coefficients, correlation of the paper included."""
    sigma: float
    """Robust scatter of single blocks about the surface. [log level]"""


def design(uv: Points) -> Floats:
    """Return the (n, 6) terms of the surface at normalised places."""
    u, v = uv[:, 0], uv[:, 1]
    return np.column_stack((np.ones_like(u), u, v, u * u, u * v, v * v))


def fit_surface(uv: Points, log_level: Floats, *, is_plane: bool = False) -> Surface:
    """Return the surface through blocks of bare paper.

    Parameters
    ----------
    uv : Points
        (n, 2) places of the blocks, from the middle of the plate, `scale_px` = 1. [-]
    log_level : Floats
        (n,) natural logarithm of the block means. [-]
    is_plane : bool, default False
        Leave out the terms of second order.

    Returns
    -------
    Surface

    Notes
    -----
    Least squares with a normal prior of `UNEVENNESS` on every term but the constant, so that a margin on one side only
    gives a level with an honest uncertainty instead of a wild extrapolation. Blocks beyond three robust standard
    deviations are left out symmetrically: a mean of linear light stays a mean.
    """
    terms = design(uv)
    prior = np.diag([0.0, *[UNEVENNESS**-2] * 2, *[1e12 if is_plane else UNEVENNESS**-2] * 3])
    kept = np.ones(len(uv), dtype=bool)
    sigma = max(_robust_sigma(log_level - np.median(log_level)), 1e-5)
    coefficients: Floats = np.zeros(6)
    for _ in range(4):
        inside = terms[kept]
        coefficients = _solve(inside.T @ inside / sigma**2 + prior, inside.T @ log_level[kept] / sigma**2)
        residual = log_level - terms @ coefficients
        sigma = max(_robust_sigma(residual[kept]), 1e-5)
        kept = np.abs(residual) < 3 * sigma
    variance = sigma**2 * _inflation(uv[kept], residual[kept], sigma)
    covariance: Floats = np.asarray(
        np.linalg.inv(terms[kept].T @ terms[kept] / variance + prior), dtype=np.float64
    )
    return Surface(coefficients, covariance, sigma)


def _solve(matrix: Floats, right: Floats) -> Floats:
    return np.asarray(np.linalg.solve(matrix, right), dtype=np.float64)


def predicted(surface: Surface, uv: Points) -> Floats:
    """Return log level of the surface at places (n, 2)."""
    return np.asarray(design(uv) @ surface.coefficients)


def uncertainty(surface: Surface, uv: Points) -> Floats:
    """Return the standard uncertainty of log level at places (n, 2); for small values that of the level, relative."""
    terms = design(uv)
    return np.asarray(np.sqrt(np.sum(terms @ surface.covariance * terms, axis=1)))


def _robust_sigma(residual: Floats) -> float:
    """Return the standard deviation that the median absolute deviation of normal noise would have."""
    return 1.482602 * float(np.median(np.abs(residual - np.median(residual))))


def _inflation(uv: Points, residual: Floats, sigma: float) -> float:
    """Return by how much neighbouring blocks are alike: variance of cell means against that of independent blocks."""
    spacing = _spacing(uv)
    if spacing <= 0:
        return 1.0
    places = np.floor(uv / (_CELL * spacing)).astype(np.int64)
    places -= places.min(axis=0)
    cells = places[:, 0] * (places[:, 1].max() + 1) + places[:, 1]
    counts = np.bincount(cells)
    full: Mask = counts >= _CELL_MIN
    if full.sum() < _CELLS_MIN:
        return float(_CELL)
    means = np.bincount(cells, weights=residual)[full] / counts[full]
    return max(1.0, float(np.mean(means**2 * counts[full])) / sigma**2)


def _spacing(uv: Points) -> float:
    """Return the distance of neighbouring blocks, from the different columns that occur."""
    columns = np.unique(uv[:, 0].round(9))
    return float(np.median(np.diff(columns))) if columns.size > 1 else 0.0
