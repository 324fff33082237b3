"""Random fields: smooth ones over the plate, and the grain of the paper."""

from functools import lru_cache

import numpy as np
from scipy import ndimage


def smooth_field(points_mm: np.ndarray, scale_mm: float, seed: int | list[int]) -> np.ndarray:
    """Return a smooth random field of about unit spread at plate points.

    A lattice of independent normal numbers, one per `scale_mm`, joined by cubic splines.

    Parameters
    ----------
    points_mm : (n, 2) or (h, w, 2)
        Plate points; anywhere, as the lattice repeats after 64 knots. [mm]
    scale_mm : float
        Distance of the knots; features are about twice as wide. [mm]
    seed : int or list of int
    """
    lattice = np.random.default_rng(seed).standard_normal((64, 64))
    at = np.moveaxis(points_mm[..., ::-1] / scale_mm + 17.0, -1, 0)
    values = ndimage.map_coordinates(lattice, at, order=3, mode="grid-wrap")
    return np.asarray(values / 0.62)  # between knots a cubic spline of unit noise has a spread of about 0.62


@lru_cache(maxsize=4)
def grain_tile(pitch_um: float, seed: int, size: int = 2048) -> np.ndarray:
    """Return a periodic tile of paper grain, (size, size) float32, mean 0 and spread 1.

    The sum of two isotropic Gaussian-correlated fields with widths of 60 and 130 µm (full width at half height of
    the correlation), the range of felt and fibre clumps on sized rag paper (common practice).
    """
    frequency = np.fft.fftfreq(size, pitch_um)
    square = frequency[:, None] ** 2 + np.fft.rfftfreq(size, pitch_um)[None, :] ** 2
    spectrum = np.fft.rfft2(np.random.default_rng(seed).standard_normal((size, size)))
    tile = np.zeros((size, size))
    for width_um, weight in ((60.0, 0.6), (130.0, 0.8)):
        sigma = width_um / 2.355 / np.sqrt(2.0)
        part = np.fft.irfft2(spectrum * np.exp(-2.0 * (np.pi * sigma) ** 2 * square), s=(size, size))
        tile += weight * part / part.std()
    return ((tile - tile.mean()) / tile.std()).astype(np.float32)
