"""From the plate to the scan: smooth uneven stretch, crease, then stretch, shear, rotation and place.

``plate mm -> (+ uneven stretch) -> (+ crease opening on one side) -> affine -> scan px``. The uneven stretch has no
affine part of its own, so stretch, shear and rotation are those of the best affine map.
"""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from tests.simulate.noise import smooth_field

WARP_STEP_MM = 0.5
"""Pitch of the table of uneven stretch; it is smooth over some 20 mm, so linear reading is exact to 0.1 µm."""
WARP_REACH_MM = 15.0
"""How far the table reaches beyond the plate."""


@dataclass(frozen=True, slots=True, eq=False)
class Crease:
    """A fold of the sheet in the nip: after flattening, a bare slit parts the print along a straight line."""

    start_mm: tuple[float, float]
    """Where it is widest, at the plate's edge or beyond."""
    end_mm: tuple[float, float]
    """Where it closes."""
    width_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Mapping:
    """Plate mm to scan px and back."""

    affine: np.ndarray
    """(2, 3): ``px = affine[:, :2] @ u + affine[:, 2]``."""
    warp_mm: np.ndarray
    """(rows, columns, 2) displacement table over the plate and `WARP_REACH_MM` around it."""
    inverse_mm: np.ndarray
    """(rows, columns, 2) what to take away from a displaced point to be back on the plate."""
    crease: Crease | None

    @property
    def crease_line(self) -> np.ndarray:
        """Start x, y, unit direction x, y, length, width; width 0 for no crease. [mm]"""
        if self.crease is None:
            return np.array([0.0, 0.0, 1.0, 0.0, 1.0, 0.0])
        start, end = np.array(self.crease.start_mm), np.array(self.crease.end_mm)
        length = float(np.hypot(*(end - start)))
        return np.array([*start, *((end - start) / length), length, self.crease.width_mm])


def _table_points(width_mm: float, height_mm: float) -> np.ndarray:
    xs = np.arange(-WARP_REACH_MM, width_mm + WARP_REACH_MM + WARP_STEP_MM, WARP_STEP_MM)
    ys = np.arange(-WARP_REACH_MM, height_mm + WARP_REACH_MM + WARP_STEP_MM, WARP_STEP_MM)
    return np.stack(np.meshgrid(xs, ys), axis=-1)


def read_table(table: np.ndarray, points_mm: np.ndarray) -> np.ndarray:
    """Return a displacement table at plate points, bilinear. Shapes (n, 2) -> (n, 2)."""
    at = (points_mm[:, ::-1].T + WARP_REACH_MM) / WARP_STEP_MM
    parts = [ndimage.map_coordinates(table[..., k], at, order=1, mode="nearest") for k in (0, 1)]
    return np.stack(parts, axis=1)


def _uneven_stretch(width_mm: float, height_mm: float, size_mm: float, seed: int) -> np.ndarray:
    """Return a displacement table whose largest displacement on the plate is `size_mm`, free of affine parts."""
    grid = _table_points(width_mm, height_mm)
    scale = 0.45 * max(width_mm, height_mm)
    field = np.stack([smooth_field(grid, scale, [seed, 11 + k]) for k in (0, 1)], axis=-1)
    on_plate = np.all((grid >= 0) & (grid <= (width_mm, height_mm)), axis=-1)
    basis = np.concatenate((grid, np.ones((*grid.shape[:2], 1))), axis=-1)
    fit, *_ = np.linalg.lstsq(basis[on_plate], field[on_plate], rcond=None)
    field = field - basis @ fit
    largest = np.hypot(*field[on_plate].T).max()
    return np.asarray(field * (size_mm / largest))


def _invert(table: np.ndarray, width_mm: float, height_mm: float) -> np.ndarray:
    """Return ``g`` with ``p = u - g(u)`` for ``u = p + table(p)``, by fixed-point iteration."""
    u = _table_points(width_mm, height_mm)
    flat = u.reshape(-1, 2)
    guess = np.zeros_like(flat)
    for _ in range(8):
        guess = read_table(table, flat - guess)
    return guess.reshape(u.shape)


def make_mapping(
    size_mm: tuple[float, float],
    ppi: float,
    *,
    stretch: tuple[float, float] = (1.0, 1.0),
    shear: float = 0.0,
    rotation_deg: float = 0.0,
    mirrored: bool = False,
    warp_mm: float = 0.0,
    margin_mm: float = 9.0,
    crease: Crease | None = None,
    seed: int = 0,
) -> tuple[Mapping, tuple[int, int]]:
    """Return the map and the (height, width) of the scan that shows the plate with its margins.

    The linear part is ``px/mm * rotation @ [[stretch_x, shear], [0, stretch_y]] @ flip``; rotation is
    counter-clockwise as seen.
    """
    width_mm, height_mm = size_mm
    angle = np.deg2rad(rotation_deg)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    linear = turn @ np.array([[stretch[0], shear], [0.0, stretch[1]]]) * (ppi / 25.4)
    if mirrored:
        linear = linear @ np.diag([-1.0, 1.0])
    corners = np.array([(0.0, 0), (width_mm, 0), (width_mm, height_mm), (0, height_mm)]) @ linear.T
    margin_px = margin_mm * ppi / 25.4
    rng = np.random.default_rng([seed, 5])
    shift = margin_px - corners.min(axis=0) + rng.uniform(-0.1, 0.1, 2) * margin_px
    extent = np.ceil(np.ptp(corners, axis=0) + 2 * margin_px).astype(int)
    warp = _uneven_stretch(width_mm, height_mm, warp_mm, seed)
    affine = np.concatenate((linear, shift[:, None]), axis=1)
    mapping = Mapping(affine, warp, _invert(warp, width_mm, height_mm), crease)
    return mapping, (int(extent[1]), int(extent[0]))


def crease_side(line: np.ndarray, u_mm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return distance beyond the crease line (positive on the moved side) and the opening there. [mm]"""
    relative = u_mm - line[:2]
    along = relative @ line[2:4]
    beyond = relative @ np.array([-line[3], line[2]])
    opening = line[5] * np.clip(1.0 - along / line[4], 0.0, 1.0)
    return beyond, opening


def to_px(mapping: Mapping, points_mm: np.ndarray) -> np.ndarray:
    """Return scan pixels of plate points; (n, 2) -> (n, 2)."""
    u = points_mm + read_table(mapping.warp_mm, points_mm)
    line = mapping.crease_line
    if line[5] > 0:
        beyond, opening = crease_side(line, u)
        normal = np.array([-line[3], line[2]])
        u = u + np.where(beyond > 0, opening, 0.0)[:, None] * normal
    return np.asarray(u @ mapping.affine[:, :2].T + mapping.affine[:, 2])
