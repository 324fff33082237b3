"""Conversions between scan pixels and millimetres, and the densities of ink films."""

import numpy as np
import numpy.typing as npt

MM_PER_INCH = 25.4
"""Millimetres in an inch, exact (international inch of 1959)."""

UM_PER_MM = 1000.0


def px_per_mm(ppi: float) -> float:
    """Return pixels per millimetre of a resolution in pixels per inch.

    >>> round(px_per_mm(600), 4)
    23.622
    """
    return ppi / MM_PER_INCH


def density(reflectance: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Return optical density ``-log10(reflectance)`` [-]; not finite where reflectance is 0 or less.

    >>> density([1.0, 0.1]).round(6).tolist()
    [-0.0, 1.0]
    """
    values = np.asarray(reflectance, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        return -np.log10(values)


def reflectance(density_value: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Return reflectance ``10**-density`` [-].

    >>> reflectance([0.0, 1.0]).tolist()
    [1.0, 0.1]
    """
    return np.asarray(10.0 ** -np.asarray(density_value, dtype=np.float64))
