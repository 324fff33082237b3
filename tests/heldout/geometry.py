"""How one sheet shrank and lay on the scanner: plate mm to scan px, exactly, and back."""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np

from tests.heldout.fields import Array


@dataclass(frozen=True, slots=True, eq=False)
class SheetMap:
    """Affine map, uneven stretch as a few soft bumps, and a jump along a crease."""

    affine: Array
    """(2, 3) plate mm (after the bumps) -> px."""
    centres: Array
    """(k, 2) of the bumps [mm]."""
    reach: Array
    """(k,) [mm]."""
    push: Array
    """(k, 2) [mm]."""
    level: Array
    """(3, 2) part of the bumps that is a mere affine map, taken off."""
    crease: tuple[Array, Array, float] | None = None
    """Point on the crease [mm], unit normal, jump along it [mm]."""


@numba.njit(cache=True)
def _sum_of_bumps(points, centres, reach, push, level):  # type: ignore[no-untyped-def]
    moved = np.empty_like(points)
    for n in range(points.shape[0]):
        x, y = points[n, 0], points[n, 1]
        u = -(level[0, 0] + x * level[1, 0] + y * level[2, 0])
        v = -(level[0, 1] + x * level[1, 1] + y * level[2, 1])
        for k in range(reach.shape[0]):
            near = np.exp(-0.5 * ((x - centres[k, 0]) ** 2 + (y - centres[k, 1]) ** 2) / reach[k] ** 2)
            u += near * push[k, 0]
            v += near * push[k, 1]
        moved[n, 0] = u
        moved[n, 1] = v
    return moved


def _bumps(m: SheetMap, points_mm: Array) -> Array:
    return np.asarray(_sum_of_bumps(np.ascontiguousarray(points_mm), m.centres, m.reach, m.push, m.level))


def to_px(m: SheetMap, points_mm: Array) -> Array:
    """Return scan pixels of (n, 2) plate points; pixel centres at whole numbers."""
    here = points_mm + _bumps(m, points_mm)
    if m.crease is not None:
        point, normal, jump = m.crease
        along = np.array([-normal[1], normal[0]])
        beyond = (points_mm - point) @ normal > 0
        here = here + beyond[:, None] * (jump * (0.6 * along - 0.8 * normal))
    return here @ m.affine[:, :2].T + m.affine[:, 2]


def to_mm(m: SheetMap, points_px: Array) -> Array:
    """Return plate mm of scan pixels; the jump of a crease is left out (only the film is looked up so)."""
    back = np.linalg.inv(m.affine[:, :2])
    target = (points_px - m.affine[:, 2]) @ back.T
    guess = target.copy()
    for _ in range(4):
        guess = target - _bumps(m, guess)
    return guess


def grid(width_mm: float, height_mm: float, step_mm: float = 4.0) -> Array:
    """Return the points of a square grid on the plate. (n, 2) [mm]"""
    x = np.arange(0, width_mm + 1e-9, step_mm)
    y = np.arange(0, height_mm + 1e-9, step_mm)
    return np.stack([g.ravel() for g in np.meshgrid(x, y)], axis=1)


def cells(width_mm: float, height_mm: float, across: int = 100) -> Array:
    """Return the middles of `across` x `across` equal cells that fill the plate. (n, 2) [mm]"""
    part = (np.arange(across) + 0.5) / across
    return np.stack([g.ravel() for g in np.meshgrid(width_mm * part, height_mm * part)], axis=1)


@dataclass(frozen=True, slots=True)
class Decomposed:
    """Best affine map of a sheet, taken apart."""

    stretch_x: float
    stretch_y: float
    shear: float
    rotation_deg: float
    """Counter-clockwise as seen."""
    mirrored: bool


def decompose(points_mm: Array, points_px: Array, px_per_mm: float) -> Decomposed:
    """Fit the affine map by least squares over the points and return stretch, shear and turn.

    With uneven stretch the answer hangs on the points: `cells` stands for the plate's area.
    """
    design = np.column_stack((points_mm, np.ones(len(points_mm))))
    m = (np.linalg.lstsq(design, points_px, rcond=None)[0].T)[:, :2] / px_per_mm
    mirrored = bool(np.linalg.det(m) < 0)
    if mirrored:
        m = m @ np.diag([-1.0, 1.0])
    turn = np.arctan2(m[1, 0], m[0, 0])
    c, s = np.cos(turn), np.sin(turn)
    upper = np.array([[c, s], [-s, c]]) @ m
    return Decomposed(upper[0, 0], upper[1, 1], upper[0, 1] / upper[1, 1], float(-np.rad2deg(turn)), mirrored)


def random_map(
    rng: np.random.Generator,
    size_mm: tuple[float, float],
    px_per_mm: float,
    base_stretch: tuple[float, float],
) -> tuple[SheetMap, tuple[int, int]]:
    """Return the map of one sheet and the size (width, height) of its scan [px].

    Stretch scatters 0.15 % from sheet to sheet about `base_stretch`; turn up to 2 degrees; uneven stretch up to
    0.15 mm.
    """
    width, height = size_mm
    sx, sy = np.array(base_stretch) * (1 + rng.normal(0, 0.0015, 2))
    shear = rng.normal(0, 0.0006)
    turn = np.deg2rad(rng.uniform(-2, 2))
    c, s = np.cos(turn), np.sin(turn)
    linear = px_per_mm * np.array([[c, s], [-s, c]]) @ np.array([[sx, shear * sy], [0, sy]])
    k = int(rng.integers(3, 6))
    centres = rng.uniform((0, 0), size_mm, (k, 2))
    reach = rng.uniform(0.25, 0.5, k) * min(size_mm)
    push = rng.normal(0, 1, (k, 2))
    flat = SheetMap(np.eye(2, 3), centres, reach, push, np.zeros((3, 2)))
    points = grid(width, height)
    bumps = _bumps(flat, points)
    level = np.linalg.lstsq(np.column_stack((np.ones(len(points)), points)), bumps, rcond=None)[0]
    rest = bumps - level[0] - points @ level[1:]
    scale = rng.uniform(0.03, 0.15) / np.hypot(*rest.T).max()
    margins = rng.uniform(7, 16, 4)
    corners = np.array([(0, 0), (width, 0), (width, height), (0, height)]) @ linear.T
    shift = -corners.min(axis=0) + margins[:2] * px_per_mm
    size = corners.max(axis=0) + shift + margins[2:] * px_per_mm
    affine = np.column_stack((linear, shift))
    return SheetMap(affine, centres, reach, push * scale, level * scale), (int(size[0]), int(size[1]))
