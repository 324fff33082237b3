"""Whether a print shows a line where the drawing has one, read in the scan itself."""

import numpy as np
from scipy.ndimage import uniform_filter1d

from proofkit.arrays import Floats, Points
from proofkit.laying.standard_lines import line_profiles
from proofkit.measures.types import LaidSheet

STEP_MM = 0.06
"""Distance of the profiles along a drawn line: several to each gap of fine hatching that crosses it. [mm]"""

REACH_MM = 0.35
"""How far from the drawn place its line may lie: the hand's wandering twice over. [mm]"""

CORE_MM = 0.04
"""Half width of the strip that is taken for the line. [mm]"""

SIDES_MM = (0.10, 0.18)
"""Strips to both sides of it that are taken for its ground: beside a usual contour, within a gap of hatching. [mm]"""

ALONG_MM = 0.9
"""Length of line over which light is averaged: hatching that crosses darkens the strips alike. [mm]"""


def line_contrast(sheet: LaidSheet, points_mm: Points, normals: Points) -> Floats:
    """Return how much darker than its sides the print is along a course, at the best place beside it.

    Parameters
    ----------
    sheet : LaidSheet
        The print.
    points_mm, normals : Points
        (n, 2) course on the plate, and unit vectors across it.

    Returns
    -------
    Floats
        (m,) R/Rp of the darker side less that of the line, every `STEP_MM` along the course; 0 for no line.
    """
    at, across = _evenly(points_mm, normals)
    half = REACH_MM + SIDES_MM[1] + 0.02
    profiles = line_profiles(sheet.scan.plane, sheet.paper, sheet.laying, at, across, half)
    s, light = profiles.s_mm, np.nan_to_num(profiles.values.astype(np.float64), nan=1.0)
    light = uniform_filter1d(light, max(round(ALONG_MM / STEP_MM), 1), axis=0, mode="nearest")
    best = np.zeros(len(at))
    for place in np.arange(-REACH_MM, REACH_MM + 0.01, 0.025):
        away = s - place
        core = light[:, np.abs(away) <= CORE_MM].mean(axis=1)
        sides = [
            light[:, (side * away >= SIDES_MM[0]) & (side * away <= SIDES_MM[1])].mean(axis=1)
            for side in (-1, 1)
        ]
        best = np.maximum(best, np.minimum(*sides) - core)
    return best


def _evenly(points_mm: Points, normals: Points) -> tuple[Points, Points]:
    """Return points every `STEP_MM` along a course, and the normals there."""
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points_mm, axis=0).T))))
    at = np.arange(0, max(along[-1], STEP_MM), STEP_MM)
    place, across = (
        np.column_stack([np.interp(at, along, part[:, k]) for k in (0, 1)]) for part in (points_mm, normals)
    )
    return place, across / np.maximum(np.hypot(*across.T), 1e-9)[:, None]
