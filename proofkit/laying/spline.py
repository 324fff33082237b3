"""Smooth warp: a uniform cubic B-spline of displacements fitted to observations with 2 x 2 weights."""

from dataclasses import replace

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import spsolve

from proofkit.arrays import Floats, Points
from proofkit.laying.types import Laying, basis, warp_at

CURVATURE_SD_MM = 0.05
"""Expected size of a second difference of the warp between neighbouring control points: an uneven stretch of
0.15 mm that swings over 80 mm makes 0.09 mm at a step of 10 mm (worked out from the size of paper movement in
check-values of wet paper, common practice). [mm]"""

WARP_STEP_MM = 10.0
"""Distance of control points: paper stretches unevenly over centimetres, not millimetres. [mm]"""


def control_shape(width_mm: float, height_mm: float, step_mm: float) -> tuple[int, int]:
    """Return rows and columns of control points that cover a plate."""
    return int(np.ceil(height_mm / step_mm)) + 3, int(np.ceil(width_mm / step_mm)) + 3


def _design(points_mm: Points, rows: int, columns: int, step_mm: float) -> sp.csr_matrix:
    """Return the (n, rows * columns) matrix of B-spline weights at points."""
    u = np.clip(points_mm[:, 0] / step_mm, 0, columns - 3 - 1e-9)
    v = np.clip(points_mm[:, 1] / step_mm, 0, rows - 3 - 1e-9)
    i, j = u.astype(np.intp), v.astype(np.intp)
    wx, wy = basis(u - i), basis(v - j)
    n = len(points_mm)
    values = np.empty((n, 16))
    index = np.empty((n, 16), dtype=np.intp)
    for b in range(4):
        for a in range(4):
            values[:, 4 * b + a] = wy[b] * wx[a]
            index[:, 4 * b + a] = (j + b) * columns + i + a
    pointer = np.arange(0, 16 * n + 1, 16)
    return sp.csr_matrix((values.ravel(), index.ravel(), pointer), shape=(n, rows * columns))


def _roughness(rows: int, columns: int) -> sp.csr_matrix:
    """Return the quadratic form of all second differences of the control points."""

    def second(n: int) -> sp.csr_matrix:
        return sp.csr_matrix(sp.diags_array([1.0, -2.0, 1.0], offsets=[0, 1, 2], shape=(max(n - 2, 0), n)))

    def first(n: int) -> sp.csr_matrix:
        return sp.csr_matrix(sp.diags_array([-1.0, 1.0], offsets=[0, 1], shape=(n - 1, n)))

    eye_r, eye_c = sp.eye_array(rows), sp.eye_array(columns)
    along_x = sp.kron(eye_r, second(columns))
    along_y = sp.kron(second(rows), eye_c)
    mixed = sp.kron(first(rows), first(columns))
    return sp.csr_matrix(along_x.T @ along_x + along_y.T @ along_y + 2 * mixed.T @ mixed)


def fit_warp(
    laying: Laying, points_mm: Points, offsets_px: Points, weights: Floats, *, px_per_mm: float, steps: int = 6
) -> tuple[Laying, Floats]:
    """Return `laying` with its warp fitted to observed offsets, and the weight each observation kept.

    Parameters
    ----------
    laying : Laying
        Start; its affine part is kept.
    points_mm : Points
        (n, 2) plate points that were observed. [mm]
    offsets_px : Points
        (n, 2) observed place minus the place `laying` gives. [px]
    weights : Floats
        (n, 2, 2) information of each observation: only the directions in which it says something. [1/px²]
    px_per_mm : float
        Of the sheet.
    steps : int, default 6
        Rounds of reweighting; observations far from the smooth field lose their say (Cauchy weights).

    Returns
    -------
    Laying
        With the fitted warp.
    Floats
        (n,) final weight of each observation, 0 to 1.
    """
    rows, columns, _ = laying.warp_px.shape
    design = _design(points_mm, rows, columns, laying.warp_step_mm)
    target = warp_at(laying, points_mm) + offsets_px
    penalty = _roughness(rows, columns) / (CURVATURE_SD_MM * px_per_mm) ** 2
    tiny = 1e-9 * sp.eye_array(rows * columns)
    say = np.ones(len(points_mm))
    controls = laying.warp_px.reshape(-1, 2)
    for _ in range(steps):
        w = weights * say[:, None, None]
        blocks = [[design.T @ design.multiply(w[:, a, b][:, None]) for b in (0, 1)] for a in (0, 1)]
        smooth = penalty + tiny
        system = sp.bmat([[blocks[0][0] + smooth, blocks[0][1]], [blocks[1][0], blocks[1][1] + smooth]], format="csc")
        pull = np.einsum("nab,nb->na", w, target)
        right = np.concatenate((design.T @ pull[:, 0], design.T @ pull[:, 1]))
        controls = spsolve(system, right).reshape(2, -1).T
        residual = target - np.column_stack((design @ controls[:, 0], design @ controls[:, 1]))
        distance = np.sqrt(np.maximum(np.einsum("na,nab,nb->n", residual, weights, residual), 0))
        scale = max(1.5 * float(np.median(distance)), 1.0)
        say = 1.0 / (1.0 + (distance / (2.0 * scale)) ** 2) ** 2
    return replace(laying, warp_px=controls.reshape(rows, columns, 2)), say


def split_affine(laying: Laying, width_mm: float, height_mm: float) -> Laying:
    """Return the same map with as much of it as possible in the affine part.

    A cubic B-spline with linear control values is that linear function, so moving a linear part from the
    controls to the affine map changes no point.
    """
    x, y = np.meshgrid(np.linspace(0, width_mm, 25), np.linspace(0, height_mm, 25))
    grid = np.column_stack((x.ravel(), y.ravel()))
    design = np.column_stack((grid, np.ones(len(grid))))
    linear = np.linalg.lstsq(design, warp_at(laying, grid), rcond=None)[0].T
    rows, columns, _ = laying.warp_px.shape
    cx, cy = np.meshgrid(np.arange(columns) - 1.0, np.arange(rows) - 1.0)
    at = np.stack((cx, cy, np.full_like(cx, 1.0 / laying.warp_step_mm)), axis=-1) * laying.warp_step_mm
    return replace(laying, affine=laying.affine + linear, warp_px=laying.warp_px - at @ linear.T)
