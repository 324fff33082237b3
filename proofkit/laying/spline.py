"""Smooth warp: a uniform cubic B-spline of displacements fitted to observations with 2 x 2 weights."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import scipy.sparse as sp
from scipy.linalg import solveh_banded

from proofkit.arrays import Floats, Points
from proofkit.laying.kernels import add_observations, spline_values
from proofkit.laying.types import Laying, places, warp_at

CURVATURE_SD_MM = 0.09
"""Expected size of a second difference of the warp between neighbouring control points: what an uneven stretch of
0.15 mm that swings over 80 mm makes at a step of 10 mm (worked out from the size of paper movement in check-values
of wet paper, common practice). Half or twice as much lays sheets of both simulators worse. [mm]"""

WARP_STEP_MM = 10.0
"""Distance of control points: paper stretches unevenly over centimetres, not millimetres. [mm]"""

KEPT = 1e4
"""Information of a warp that is told to controls further apart: more would let rounding grow in those beyond the plate,
which only their stiffness holds. [1/px²]"""

SPLIT_CELLS = 40
"""Cells along each side over which an affine map is fitted: the mean stretch of a warp that bends once is then right to
0.1 % of the bend (midpoint rule: 1/n² at most). [-]"""


def control_shape(width_mm: float, height_mm: float, step_mm: float) -> tuple[int, int]:
    """Return rows and columns of control points that cover a plate."""
    return int(np.ceil(height_mm / step_mm)) + 3, int(np.ceil(width_mm / step_mm)) + 3


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


@lru_cache(maxsize=16)
def _stiffness(rows: int, columns: int) -> Floats:
    """Return the roughness of both axes as the lower band of the normal equations, see `add_observations`."""
    form = _roughness(rows, columns).tocoo()
    band = np.zeros((2 * rows * columns, 2 * (3 * columns + 4)))
    lower = form.row >= form.col
    for axis in (0, 1):
        np.add.at(band, (2 * form.col[lower] + axis, 2 * (form.row - form.col)[lower]), form.data[lower])
    return band


def _say(residual: Points, weights: Floats) -> Floats:
    """Return the say of observations that lie so far from a field, (n,): far from it they lose it (Cauchy weights)."""
    distance = np.sqrt(np.maximum(np.einsum("na,nab,nb->n", residual, weights, residual), 0))
    scale = max(1.5 * float(np.median(distance)), 1.0)
    return np.asarray(1.0 / (1.0 + (distance / (2.0 * scale)) ** 2) ** 2)


def fit_warp(
    laying: Laying,
    points_mm: Points,
    offsets_px: Points,
    weights: Floats,
    *,
    px_per_mm: float,
    steps: int = 4,
    near: bool = False,
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
    steps : int, default 4
        Rounds of reweighting; observations far from the smooth field lose their say.
    near : bool, default False
        `laying` is such a field already: what lies far from it has less say from the first round on.

    Returns
    -------
    Laying
        With the fitted warp.
    Floats
        (n,) final weight of each observation, 0 to 1.
    """
    rows, columns, _ = laying.warp_px.shape
    i, j, wx, wy = places(laying, points_mm)
    target = warp_at(laying, points_mm) + offsets_px
    # Controls are numbered along the shorter side, which keeps the band narrow.
    turned = columns > rows
    control, short = ((j, i, wy, wx), rows) if turned else ((i, j, wx, wy), columns)
    order = np.lexsort(control[:2])
    # At twice the step a bend makes second differences four times as large on a quarter of the controls: it costs the
    # same where they are taken to be twice as large.
    curvature_px = CURVATURE_SD_MM * px_per_mm * laying.warp_step_mm / WARP_STEP_MM
    penalty = _stiffness(max(rows, columns), short) / curvature_px**2
    penalty[:, 0] += 1e-9
    say = _say(offsets_px, weights) if near else np.ones(len(points_mm))
    controls = laying.warp_px
    for _ in range(steps):
        band, right = penalty.copy(), np.zeros(2 * rows * columns)
        add_observations(order, *control, weights, say, target, short, band, right)
        unknowns = solveh_banded(
            band.T, right, overwrite_ab=True, overwrite_b=True, lower=True, check_finite=False
        )
        controls = unknowns.reshape(-1, short, 2)
        if turned:
            controls = np.ascontiguousarray(controls.swapaxes(0, 1))
        say = _say(target - spline_values(i, j, wx, wy, controls), weights)
    return replace(laying, warp_px=controls), say


def halved_net(laying: Laying, size_mm: tuple[float, float]) -> Laying:
    """Return the same map over a plate of a size with the controls of its warp half as far apart.

    A cubic B-spline is one of half the step as well: new controls lie at old ones, 1/8, 6/8 and 1/8 of them and their
    neighbours, and halfway between two (knots put in between).
    """
    step_mm = laying.warp_step_mm / 2
    controls = laying.warp_px
    for axis, wanted in enumerate(control_shape(*size_mm, step_mm)):
        old = np.moveaxis(controls, axis, 0)
        new = np.empty((2 * len(old) - 3, *old.shape[1:]))
        new[0::2] = (old[:-1] + old[1:]) / 2
        new[1::2] = (old[:-2] + 6 * old[1:-1] + old[2:]) / 8
        controls = np.moveaxis(new[:wanted], 0, axis)
    return replace(laying, warp_px=np.ascontiguousarray(controls), warp_step_mm=step_mm)


def widened_net(laying: Laying, size_mm: tuple[float, float], step_mm: float) -> Laying:
    """Return nearly the same map over a plate of a size with the controls of its warp further apart."""
    x, y = (np.linspace(0.0, side, 2 * int(np.ceil(side / step_mm)) + 1) for side in size_mm)
    grid = np.column_stack([values.ravel() for values in np.meshgrid(x, y)])
    even = replace(laying, warp_px=np.zeros((*control_shape(*size_mm, step_mm), 2)), warp_step_mm=step_mm)
    kept = np.tile(np.eye(2) * KEPT, (len(grid), 1, 1))
    return fit_warp(even, grid, warp_at(laying, grid), kept, px_per_mm=laying.px_per_mm, steps=1)[0]


def split_affine(laying: Laying, width_mm: float, height_mm: float) -> Laying:
    """Return the same map with as much of it as possible in the affine part: what fits best over the plate's area.

    The squares are summed over cells of one size, at their middles: points up to the edges themselves would count what
    lies there twice, which changed stretch by 0.0001 rms and up to 0.0003 on sheets of 58 x 52 mm stretched
    unevenly by up to 0.15 mm.

    A cubic B-spline with linear control values is that linear function, so moving a linear part from the
    controls to the affine map changes no point.
    """
    middles = (np.arange(SPLIT_CELLS) + 0.5) / SPLIT_CELLS
    x, y = np.meshgrid(width_mm * middles, height_mm * middles)
    grid = np.column_stack((x.ravel(), y.ravel()))
    design = np.column_stack((grid, np.ones(len(grid))))
    linear = np.linalg.lstsq(design, warp_at(laying, grid), rcond=None)[0].T
    rows, columns, _ = laying.warp_px.shape
    cx, cy = np.meshgrid(np.arange(columns) - 1.0, np.arange(rows) - 1.0)
    at = np.stack((cx, cy, np.full_like(cx, 1.0 / laying.warp_step_mm)), axis=-1) * laying.warp_step_mm
    return replace(laying, affine=laying.affine + linear, warp_px=laying.warp_px - at @ linear.T)
