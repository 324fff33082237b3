"""Last step of laying: every line is looked for at its own place, across itself, within less than half a period."""

from dataclasses import dataclass, replace

import numpy as np

from proofkit.arrays import Floats, Index, Mask, Plane, Points
from proofkit.laying.spline import fit_warp
from proofkit.laying.standard_lines import StandardLines, part_of, read_crossings, smooth_along
from proofkit.laying.types import Laying, warp_at
from proofkit.reflectance.types import Paper
from proofkit.units import UM_PER_MM

MOST_POINTS = 12_000
"""Crossings used for the fit: an even choice of all; more would not move the smooth field."""

REACH_MM = 0.10
"""How far a line is looked for. [mm]"""

REACH_OF_SPACING = 0.38
"""... and never further than this share of the distance to the next parallel line, so that a line cannot be taken
for its neighbour. [-]"""

LINE_SIGMA_MM = 0.006
"""What one crossing tells of its line's place: grain, noise and the hand's edge (measured on simulated sheets). [mm]"""

CORRELATED = 5.0
"""Neighbouring crossings of one line share their error: this many count as one (measured as above)."""


PATCH_SIGMA_MM = 0.02
"""Where few lines hold the warp, it stays this near to what the patches said. [mm]"""

HOLD_STEP_MM = 4.0
"""Distance of the points at which it is held. [mm]"""


@dataclass(frozen=True, slots=True, eq=False)
class LineFit:
    """How the lines lie after the last step."""

    laying: Laying
    misfit_um: float
    """Rms distance of the lines from the standard's, outliers left out. [µm]"""
    offsets_mm: Floats
    """(n,) distance of each line used, across itself. [mm]"""
    used: Index
    """(n,) point numbers of `StandardLines` that were used."""
    seen: Mask
    """(n,) the line was seen there."""


def _hold_points(standard: StandardLines) -> Points:
    """Return a grid of plate points over the lines at which the patches' word is kept."""
    low, high = standard.lines.points_mm.min(axis=0), standard.lines.points_mm.max(axis=0)
    x, y = (np.arange(low[a], high[a] + HOLD_STEP_MM, HOLD_STEP_MM) for a in (0, 1))
    gx, gy = np.meshgrid(x, y)
    return np.column_stack((gx.ravel(), gy.ravel()))


def fit_lines(laying: Laying, plane: Plane, paper: Paper, standard: StandardLines, blur_mm: float) -> LineFit:
    """Return the laying fitted to the standard's lines.

    Parameters
    ----------
    laying : Laying
        From the patches, within about half a period of the finest hatching.
    plane, paper
        The sheet.
    standard : StandardLines
    blur_mm : float
        Of this scan. [mm]

    Notes
    -----
    A line says nothing of its place along itself, so each observation weighs only across the line; lines of other
    directions and the stiffness of the warp hold the rest.
    """
    candidates = np.flatnonzero(standard.clear)
    step = max(len(candidates) // MOST_POINTS, 1)
    used = candidates[::step]
    if len(used) < 50:
        return LineFit(laying, float("nan"), np.empty(0), used, np.empty(0, dtype=np.bool_))
    points, normals = standard.lines.points_mm[used], standard.lines.normals[used]
    at = part_of(standard.places, used)
    reach = np.minimum(REACH_MM, REACH_OF_SPACING * standard.spacing_mm[used])
    per_mm = float(np.sqrt(abs(np.linalg.det(laying.affine[:, :2]))))
    turned = laying.affine[:, :2] / per_mm
    start, grid = laying, _hold_points(standard)
    hold = np.tile(np.eye(2) / (PATCH_SIGMA_MM * per_mm) ** 2, (len(grid), 1, 1))
    offsets = np.zeros(len(used))
    seen = np.ones(len(used), dtype=np.bool_)
    for _ in range(2):
        values = read_crossings(plane, paper, laying, at, blur_mm, reach)
        seen = (values.load_um > 0.3 * standard.load_um[used]) & np.isfinite(values.offset_mm)
        seen &= np.abs(values.offset_mm) < np.minimum(1.5 * reach, 0.15)
        offsets = np.where(seen, values.offset_mm, np.nan)
        offsets = np.where(seen, smooth_along(offsets, standard.lines.line[used], 1), 0.0)
        across = normals @ turned.T
        information = np.einsum("na,nb->nab", across, across)
        sigma_px = LINE_SIGMA_MM * per_mm * np.sqrt(CORRELATED)
        weights = information * (seen / sigma_px**2)[:, None, None]
        held = warp_at(start, grid) - warp_at(laying, grid)
        laying, _ = fit_warp(
            laying,
            np.vstack((points, grid)),
            np.vstack((offsets[:, None] * across * per_mm, held)),
            np.concatenate((weights, hold)),
            px_per_mm=per_mm,
        )
    values = read_crossings(plane, paper, laying, at, blur_mm, reach)
    seen &= np.isfinite(values.offset_mm)
    offsets = np.where(seen, values.offset_mm, np.nan)
    offsets = np.where(seen, smooth_along(offsets, standard.lines.line[used], 2), np.nan)
    known = offsets[np.isfinite(offsets)]
    if not len(known):
        return LineFit(laying, float("nan"), offsets, used, seen)
    spread = 1.4826 * float(np.median(np.abs(known - np.median(known))))
    kept = known[np.abs(known - np.median(known)) < 4 * max(spread, 1e-4)]
    misfit = float(np.sqrt(np.mean(kept**2))) * UM_PER_MM
    return LineFit(replace(laying, misfit_um=misfit), misfit, offsets, used, seen)
