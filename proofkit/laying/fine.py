"""Last step of laying: every line is looked for at its own place, across itself, within less than half a period."""

from dataclasses import dataclass, replace

import numpy as np

from proofkit.arrays import Floats, Index, Mask, Plane, Points
from proofkit.frame.types import PlateFrame
from proofkit.laying.edges import EdgeCourse, EdgeOffsets, edge_offsets
from proofkit.laying.spline import fit_warp
from proofkit.laying.standard_lines import StandardLines, part_of, read_crossings, smooth_along
from proofkit.laying.types import Laying, warp_at
from proofkit.reflectance.types import Paper
from proofkit.scatter import robust_sd
from proofkit.units import UM_PER_MM

MOST_POINTS = 12_000
"""Crossings used for the fit: an even choice of all; more would not move the smooth field."""

EVERY = 3, 1
"""Two rounds: for the first every third of them will do, as the second starts where it ends. Each then stands for
three, else patches hold the first round back (0.8 µm worse on small plates)."""

REACH_MM = 0.10
"""How far a line is looked for. [mm]"""

REACH_OF_SPACING = 0.38
"""... and never further than this share of the distance to the next parallel line, so that a line cannot be taken
for its neighbour. [-]"""

LINE_SIGMA_MM = 0.006
"""What one crossing tells of its line's place: grain, noise and the hand's edge (measured on simulated sheets). [mm]"""

CORRELATED = 5.0
"""Neighbouring crossings of one line share their error: this many count as one (measured as above)."""

PATCH_BY_SIDES_MM = (0.02, 0.02, 0.02, 0.1, 0.3)
"""Where few lines hold the warp, it stays this near to what the patches said; the more sides of the plate mark, 0 to 4,
hold it too, the less: patches say little along lines and nothing beside them. [mm]"""

MARK_SIGMA_MM = 0.015
"""What the plate mark on one block of an edge, some 6 mm, tells of its place; with what a whole edge has in common it
is 0.005 mm where film is seen to begin (simulated sheets of 600 ppi). [mm]"""

UNLIKE_MARK_SIGMA_MM = 0.06
"""The same where it was found by something else than on the standard. [mm]"""

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


@dataclass(frozen=True, slots=True, eq=False)
class PlateEdges:
    """The plate mark of a sheet and that of the standard."""

    frame: PlateFrame
    """Of the sheet."""
    courses: tuple[EdgeCourse, ...]
    """Of the standard."""


@dataclass(frozen=True, slots=True, eq=False)
class _Observed:
    """What a fit of the warp is told."""

    points_mm: Points
    offsets_px: Points
    weights: Floats
    """(n, 2, 2) [1/px²]"""


def _hold_points(standard: StandardLines) -> Points:
    """Return a grid of plate points over the lines at which the patches' word is kept."""
    # Column by column: numpy takes ten times as long for both at once.
    x, y = (
        np.arange(values.min(), values.max() + HOLD_STEP_MM, HOLD_STEP_MM)
        for values in standard.lines.points_mm.T
    )
    gx, gy = np.meshgrid(x, y)
    return np.column_stack((gx.ravel(), gy.ravel()))


def fit_lines(
    laying: Laying,
    plane: Plane,
    paper: Paper,
    standard: StandardLines,
    blur_mm: float,
    edges: PlateEdges | None = None,
) -> LineFit:
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
    edges : PlateEdges, optional
        Plate marks, when both sheets show them.

    Notes
    -----
    A line says nothing of its place along itself, so each observation weighs only across the line; lines of other
    directions, the plate mark and the stiffness of the warp hold the rest.
    """
    candidates = np.flatnonzero(standard.clear)
    step = max(len(candidates) // MOST_POINTS, 1)
    chosen = candidates[::step]
    if len(chosen) < 50:
        return LineFit(laying, float("nan"), np.empty(0), chosen, np.empty(0, dtype=np.bool_))
    per_mm = laying.px_per_mm
    start, grid = laying, _hold_points(standard)
    for every in EVERY:
        used = chosen[::every]
        at = part_of(standard.places, used)
        reach = np.minimum(REACH_MM, REACH_OF_SPACING * standard.spacing_mm[used])
        values = read_crossings(plane, paper, laying, at, blur_mm, reach)
        seen = (values.load_um > 0.3 * standard.load_um[used]) & np.isfinite(values.offset_mm)
        seen &= np.abs(values.offset_mm) < np.minimum(1.5 * reach, 0.15)
        offsets = np.where(seen, values.offset_mm, np.nan)
        offsets = np.where(seen, smooth_along(offsets, standard.lines.line[used], 1), 0.0)
        told = [_of_lines(laying, standard, used, offsets, seen, every)]
        sides = 0
        if edges is not None:
            marks = edge_offsets(edges.frame, laying, edges.courses)
            told.append(_of_marks(laying, marks))
            sides = len(np.unique(marks.side))
        told.append(_of_patches(laying, start, grid, PATCH_BY_SIDES_MM[sides]))
        before = laying
        laying, _ = fit_warp(
            laying,
            np.concatenate([t.points_mm for t in told]),
            np.concatenate([t.offsets_px for t in told]),
            np.concatenate([t.weights for t in told]),
            px_per_mm=per_mm,
            steps=2,
            near=True,
        )
    offsets = np.where(seen, values.offset_mm - _moved_across(before, laying, standard, used), np.nan)
    offsets = np.where(seen, smooth_along(offsets, standard.lines.line[used], 2), np.nan)
    known = offsets[np.isfinite(offsets)]
    if not len(known):
        return LineFit(laying, float("nan"), offsets, used, seen)
    spread = robust_sd(known)
    kept = known[np.abs(known - np.median(known)) < 4 * max(spread, 1e-4)]
    misfit = float(np.sqrt(np.mean(kept**2))) * UM_PER_MM
    return LineFit(replace(laying, misfit_um=misfit), misfit, offsets, used, seen)


def _across(
    laying: Laying, points_mm: Points, normals: Points, offsets_mm: Floats, sigma_mm: Floats
) -> _Observed:
    """Return observations that say something across lines only; an infinite sigma says nothing."""
    per_mm = laying.px_per_mm
    across = normals @ (laying.affine[:, :2] / per_mm).T
    weights = np.einsum("na,nb->nab", across, across) / (sigma_mm * per_mm)[:, None, None] ** 2
    return _Observed(points_mm, offsets_mm[:, None] * across * per_mm, weights)


def _moved_across(before: Laying, after: Laying, standard: StandardLines, used: Index) -> Floats:
    """Return by how much the last step moved lines across themselves, (n,): so much less they lie off now. [mm]"""
    points, per_mm = standard.lines.points_mm[used], before.px_per_mm
    across = standard.lines.normals[used] @ (before.affine[:, :2] / per_mm).T
    return np.asarray(np.sum((warp_at(after, points) - warp_at(before, points)) * across, axis=1) / per_mm)


def _of_lines(
    laying: Laying, standard: StandardLines, used: Index, offsets_mm: Floats, seen: Mask, every: int
) -> _Observed:
    """Return what crossings say, each of them standing for `every` of them."""
    sigma = np.where(seen, LINE_SIGMA_MM * np.sqrt(CORRELATED / every), np.inf)
    return _across(laying, standard.lines.points_mm[used], standard.lines.normals[used], offsets_mm, sigma)


def _of_marks(laying: Laying, marks: EdgeOffsets) -> _Observed:
    """Return what the plate mark says."""
    sigma = np.where(marks.alike, MARK_SIGMA_MM, UNLIKE_MARK_SIGMA_MM)
    return _across(laying, marks.points_mm, marks.normals, marks.offsets_mm, sigma)


def _of_patches(laying: Laying, start: Laying, grid: Points, sigma_mm: float) -> _Observed:
    """Return that the warp stays near `start`, which the patches told."""
    per_mm = laying.px_per_mm
    weights = np.tile(np.eye(2) / (sigma_mm * per_mm) ** 2, (len(grid), 1, 1))
    return _Observed(grid, warp_at(start, grid) - warp_at(laying, grid), weights)
