"""How a sheet lies on the standard: plate millimetres to the sheet's own pixels."""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Index, Points
from proofkit.laying.kernels import laid_points, spline_values
from proofkit.quality import Quality


@dataclass(frozen=True, slots=True, eq=False)
class Laying:
    """Affine map plus a smooth warp, plate mm -> sheet px.

    The warp is a uniform cubic B-spline of displacements: control point ``(row j, column i)`` sits at
    ``x = (i - 1) * warp_step_mm``, ``y = (j - 1) * warp_step_mm``.
    """

    affine: Floats
    """(2, 3): ``px = affine[:, :2] @ mm + affine[:, 2]``."""
    warp_px: Floats
    """(rows, columns, 2) control displacements, added after the affine map. [px]"""
    warp_step_mm: float
    stretch_x: float
    """Sheet mm per plate mm along x, 1 = none. [-]"""
    stretch_y: float
    shear: float
    rotation_deg: float
    """Counter-clockwise as seen."""
    mirrored: bool
    misfit_um: float
    """Rms distance of the laid lines from the standard's, after the warp. [µm]"""
    quality: Quality = Quality.NONE

    @property
    def px_per_mm(self) -> float:
        """Sheet pixels to a plate millimetre, the mean of all directions. [px/mm]"""
        return float(np.sqrt(abs(np.linalg.det(self.affine[:, :2]))))


def basis(t: Floats) -> Floats:
    """Return the four uniform cubic B-spline weights at `t` in [0, 1). Shape (4, n)."""
    return np.stack(((1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, -3 * t**3 + 3 * t**2 + 3 * t + 1, t**3)) / 6


def places(laying: Laying, points_mm: Points) -> tuple[Index, Index, Floats, Floats]:
    """Return first control column and row, (n,) each, and the weights along x and y, (4, n) each."""
    rows, columns, _ = laying.warp_px.shape
    u = np.clip(points_mm[:, 0] / laying.warp_step_mm, 0, columns - 3 - 1e-9)
    v = np.clip(points_mm[:, 1] / laying.warp_step_mm, 0, rows - 3 - 1e-9)
    i, j = u.astype(np.intp), v.astype(np.intp)
    return i, j, basis(u - i), basis(v - j)


def warp_at(laying: Laying, points_mm: Points) -> Points:
    """Return the displacement of the warp alone at plate points. [px]"""
    return np.asarray(spline_values(*places(laying, points_mm), laying.warp_px))


def to_sheet_px(laying: Laying, points_mm: Points) -> Points:
    """Return the sheet's pixels of plate points.

    Parameters
    ----------
    laying : Laying
    points_mm : Points
        (n, 2) plate points. [mm]

    Returns
    -------
    Points
        (n, 2). [px]
    """
    return np.asarray(
        laid_points(
            np.ascontiguousarray(points_mm, dtype=np.float64),
            np.ascontiguousarray(laying.affine),
            np.ascontiguousarray(laying.warp_px),
            laying.warp_step_mm,
        )
    )


def to_plate_mm(laying: Laying, points_px: Points) -> Points:
    """Return plate points of the sheet's pixels: the inverse of `to_sheet_px`.

    Parameters
    ----------
    laying : Laying
    points_px : Points
        (n, 2). [px]

    Returns
    -------
    Points
        (n, 2) plate points. [mm]

    Notes
    -----
    The warp is small and slow, so that putting its value at the last guess into the affine map gains a digit and more
    each time.
    """
    back = np.linalg.inv(laying.affine[:, :2]).T
    flat = points_px - laying.affine[:, 2]
    guess = np.asarray(flat @ back)
    for _ in range(8):
        guess = (flat - warp_at(laying, guess)) @ back
    return np.asarray(guess)
