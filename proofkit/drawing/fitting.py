"""Lay a drawing on a print from a rough place: nearest lines of like direction, an affine map, then smooth stretch."""

import numpy as np
from scipy.spatial import cKDTree

from proofkit.arrays import Floats, Index, Points
from proofkit.drawing.types import Courses, Fit
from proofkit.laying.spline import WARP_STEP_MM, control_shape, fit_warp, split_affine
from proofkit.laying.types import Laying, to_sheet_px

TURN_MM = 2.0
"""Lines of other directions count as further away: a right angle as twice this. [mm]"""

REACHES_MM = (3.0, 3.0, 2.0, 2.0, 1.5, 1.0, 0.8, 0.6, 0.5, 0.5)
"""How far from its place a line is believed, round by round. [mm]"""

NEAR_MM = 0.35
"""A drawn line lies on a printed one within this: half a pencil line and the hand beside it. [mm]"""

ALIKE_RAD = 0.3
"""... and runs in its direction within 17 degrees. [rad]"""

PUSHES_MM = (4.0, 6.0)
"""How far aside the drawing is pushed to see what lies on lines by chance. [mm]"""

HAND_MM = 0.1
"""A drawn line lies this far from where it was meant, slowly changing along it. [mm]"""

TWO_PAPERS = 2.0
"""A drawing, its transfer and the print bend together this many times as much as prints of one plate against each other
(choice of ours). [-]"""

FOLLOWED_POINTS = 10.0
"""Followed points lie 0.3 mm apart: this many count as one."""

HAND_POINTS = 20.0
"""Neighbouring points of a line share their error: this many (3 mm) count as one."""


class Target:
    """The printed lines, sorted by place and direction for looking up."""

    def __init__(self, printed: Courses) -> None:
        self.printed = printed
        self.tree = cKDTree(_keys(printed.points_mm, printed.direction))

    def nearest_at(self, points_mm: Points, direction: Floats) -> Index:
        """Return which printed point of like direction is nearest to each point."""
        return np.asarray(self.tree.query(_keys(points_mm, direction))[1], dtype=np.intp)

    def nearest(self, points_mm: Points, direction: Floats) -> tuple[Points, Floats]:
        """Return the way from each point to the nearest printed point of like direction, and how unlike that runs.

        Returns
        -------
        Points
            (n, 2) way. [mm]
        Floats
            (n,) angle between the directions. [rad]
        """
        at = self.nearest_at(points_mm, direction)
        turn = np.abs(direction - self.printed.direction[at])
        return self.printed.points_mm[at] - points_mm, np.minimum(turn, np.pi - turn)

    def normal_at(self, points_mm: Points, direction: Floats) -> Points:
        """Return the unit normal of the nearest printed line of like direction, (n, 2)."""
        angle = self.printed.direction[self.nearest_at(points_mm, direction)]
        return np.column_stack((-np.sin(angle), np.cos(angle)))


def _keys(points_mm: Points, direction: Floats) -> Points:
    turn = TURN_MM * np.column_stack((np.cos(2 * direction), np.sin(2 * direction)))
    return np.hstack((points_mm, turn))


def mapped(drawing: Courses, affine: Floats) -> tuple[Points, Floats]:
    """Return points and directions of a drawing on the print."""
    points = drawing.points_mm @ affine[:, :2].T + affine[:, 2]
    along = np.column_stack((np.cos(drawing.direction), np.sin(drawing.direction))) @ affine[:, :2].T
    return points, np.mod(np.arctan2(along[:, 1], along[:, 0]), np.pi)


def fit_affine(drawing: Courses, target: Target, affine: Floats) -> Fit:
    """Return the affine map improved round by round, and how much of the drawing then lies on printed lines.

    A line says where it lies across itself only; what finds no line near has no say.
    """
    for reach in REACHES_MM:
        points, direction = mapped(drawing, affine)
        way, turn = target.nearest(points, direction)
        normal = target.normal_at(points, direction)
        across = (way * normal).sum(axis=1)
        say = 1 / (1 + (np.hypot(*way.T) / (0.5 * reach)) ** 2) ** 2 * (turn < 2 * ALIKE_RAD)
        if not say.any():
            break
        x, y = drawing.points_mm.T
        design = np.column_stack(
            (
                normal[:, 0] * x,
                normal[:, 0] * y,
                normal[:, 0],
                normal[:, 1] * x,
                normal[:, 1] * y,
                normal[:, 1],
            )
        )
        weighted = design * (say * drawing.length_mm)[:, None]
        # A little stiffness keeps a drawing with lines of one direction only from running away.
        scale = np.array([x.std(), y.std(), 1.0] * 2) + 1e-6
        stiff = np.diag(1e-3 * (say * drawing.length_mm).sum() * scale**2)
        change = np.linalg.solve(weighted.T @ design + stiff, weighted.T @ across)
        affine = affine + change.reshape(2, 3)
    return _rated(drawing, target, affine)


def _rated(drawing: Courses, target: Target, affine: Floats) -> Fit:
    points, direction = mapped(drawing, affine)
    length = drawing.length_mm

    def covered(moved: Points) -> float:
        way, turn = target.nearest(moved, direction)
        on = (np.hypot(*way.T) < NEAR_MM) & (turn < ALIKE_RAD)
        return float((on * length).sum() / length.sum())

    aside = [
        covered(points + push * np.array([np.cos(angle), np.sin(angle)]))
        for push in PUSHES_MM for angle in np.arange(4) * np.pi / 2 + 0.4
    ]  # fmt: skip
    return Fit(affine, covered(points), float(np.mean(aside)))


def is_plausible(affine: Floats) -> bool:
    """Return whether a map keeps the shape of things: separate scales within a third, little shear."""
    sizes = np.linalg.svd(affine[:, :2], compute_uv=False)
    return bool(sizes[1] > 0.3 and sizes[0] < 3.5 and sizes[0] < 1.35 * sizes[1])


def smooth_stretch(
    drawing: Courses, target: Target, affine: Floats, extent_mm: tuple[float, float]
) -> Laying:
    """Return the map with the smooth stretch of both papers fitted to the lines.

    Parameters
    ----------
    drawing, target
    affine : Floats
        (2, 3) drawing mm -> print mm.
    extent_mm : tuple
        Width and height that the drawing's lines reach to. [mm]

    Notes
    -----
    Paper bends over centimetres. A passage that was moved on purpose is short and far off, and loses its say.
    """
    rows, columns = control_shape(*extent_mm, WARP_STEP_MM)
    laying = Laying(affine, np.zeros((rows, columns, 2)), WARP_STEP_MM, 1.0, 1.0, 0.0, 0.0, False, 0.0)  # noqa: FBT003  # a field
    _, direction = mapped(drawing, affine)
    for _ in range(4):
        points = to_sheet_px(laying, drawing.points_mm)
        way, turn = target.nearest(points, direction)
        normal = target.normal_at(points, direction)
        across = (way * normal).sum(axis=1)
        believed = (np.hypot(*way.T) < 3 * NEAR_MM) & (turn < ALIKE_RAD)
        if believed.sum() < 50:
            break
        information = np.einsum("na,nb->nab", normal, normal) / (HAND_MM**2 * HAND_POINTS)
        laying, _ = fit_warp(
            laying, drawing.points_mm[believed], (across[:, None] * normal)[believed], information[believed],
            px_per_mm=TWO_PAPERS,
        )  # fmt: skip
    return split_affine(laying, *extent_mm)


def refitted(
    laying: Laying, drawn_mm: Points, across_mm: Floats, normals: Points, extent_mm: tuple[float, float]
) -> Laying:
    """Return the map with its smooth stretch fitted to how far followed lines lie across themselves.

    Parameters
    ----------
    laying : Laying
        Start.
    drawn_mm : Points
        (n, 2) points of the drawing, about 0.3 mm apart. [drawing mm]
    across_mm : Floats
        (n,) how far the printed line lies from where `laying` puts the point, along `normals`. [mm]
    normals : Points
        (n, 2).
    extent_mm : tuple
        Width and height that the drawing's lines reach to. [mm]
    """
    information = np.einsum("na,nb->nab", normals, normals) / (HAND_MM**2 * FOLLOWED_POINTS)
    bent, _ = fit_warp(laying, drawn_mm, across_mm[:, None] * normals, information, px_per_mm=TWO_PAPERS)
    return split_affine(bent, *extent_mm)
