"""Marks of the whole sheet: a second set of lines, ink on the bevel."""

from typing import NamedTuple

import numpy as np

from proofkit.arrays import Floats, Index, Points
from proofkit.laying.standard_lines import StandardLines, line_profiles
from proofkit.measures.types import LaidSheet
from proofkit.reflectance import paper_level
from proofkit.units import density

GHOST_REACH_MM = 0.42
"""Farthest shift of a second set that is looked for: the length of a profile. [mm]"""

GHOST_PLACES_MM = np.linspace(-GHOST_REACH_MM, GHOST_REACH_MM, 85)
"""Places on a profile. [mm]"""

GHOST_STEP_MM = 0.02
GHOST_POINTS = 3000
GHOST_LEAST_POINTS = 300
GHOST_NOISES = 7.0
"""How many times the scatter over all shifts a peak must stand out."""

GHOST_FRACTION = 0.03
"""Least strength against the lines themselves that is called doubled (choice of ours). [-]"""

BEVEL_REACH_MM = 0.5


class Ghost(NamedTuple):
    """A second set of lines."""

    shift_um: float
    direction_deg: float
    fraction: float


class GhostProfiles(NamedTuple):
    """Profiles across some of the standard's lines, at which a second set is looked for on every sheet."""

    used: Index
    """Numbers of the lines' points; few or none when the standard has too few clear lines."""
    values: Floats
    """(len(used), len(GHOST_PLACES_MM)) 1 - R/Rp on the standard."""


def ghost_profiles(standard: LaidSheet, lines: StandardLines) -> GhostProfiles:
    """Return what `find_ghost` compares sheets with, so that the standard's scan is not needed any more."""
    candidates = np.flatnonzero(lines.clear & (lines.load_um > 15))
    used = candidates[:: max(len(candidates) // GHOST_POINTS, 1)]
    return GhostProfiles(used, _profiles(standard, lines, used))


def _profiles(sheet: LaidSheet, lines: StandardLines, used: Index) -> Floats:
    points, normals = lines.lines.points_mm[used], lines.lines.normals[used]
    read = line_profiles(sheet.scan.plane, sheet.paper, sheet.laying, points, normals)
    return _resample(read.values, read.s_mm, GHOST_PLACES_MM)


def find_ghost(sheet: LaidSheet, standard: GhostProfiles, lines: StandardLines) -> Ghost:
    """Return shift and strength of a second, fainter set of lines, against the standard.

    Every line of a doubled sheet has the same shift, so at a line of normal n the ghost lies at ``shift . n`` on its
    profile. What this sheet has more than the standard on each profile is summed up for every possible shift; one
    that stands out from all others is a ghost.

    Returns
    -------
    Ghost
        Shift in µm, 0 when none stands out; its direction counter-clockwise from x; strength against the line.
    """
    nothing = Ghost(0.0, float("nan"), 0.0)
    used, common = standard.used, GHOST_PLACES_MM
    if len(used) < GHOST_LEAST_POINTS:
        return nothing
    excess = standard.values - _profiles(sheet, lines, used)
    whole = np.isfinite(excess).sum(axis=1) > 20
    if whole.sum() < GHOST_LEAST_POINTS:
        return nothing
    used, excess = used[whole], excess[whole]
    normals = lines.lines.normals[used]
    excess -= np.nanmedian(excess, axis=1, keepdims=True)
    own = np.abs(common)[None, :] < (lines.spans.width_mm[used] / 2 + 0.05)[:, None]
    excess[own] = np.nan
    shifts = np.arange(-GHOST_REACH_MM, GHOST_REACH_MM + 1e-9, GHOST_STEP_MM)
    score = np.full((len(shifts), len(shifts)), np.nan)
    for row, dy in enumerate(shifts):
        place = shifts[:, None] * normals[None, :, 0] + dy * normals[None, :, 1]
        column = np.rint((place + GHOST_REACH_MM) / (common[1] - common[0])).astype(np.intp)
        inside = (column >= 0) & (column < len(common))
        values = excess[np.arange(len(used))[None, :], np.clip(column, 0, len(common) - 1)]
        values = np.where(inside, values, np.nan)
        known = np.isfinite(values)
        enough = known.sum(axis=1) > 0.3 * len(used)
        total = np.where(known, values, 0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
        score[row, enough] = total[enough]
    if np.isfinite(score).sum() < 100:
        return nothing
    middle = float(np.nanmedian(score))
    noise = 1.4826 * float(np.nanmedian(np.abs(score - middle)))
    best_row, best_col = np.unravel_index(int(np.nanargmax(score)), score.shape)
    height = float(score[best_row, best_col]) - middle
    depth = float(np.median(sheet.crossings.depth[used][np.isfinite(sheet.crossings.depth[used])]))
    fraction = height / max(depth, 1e-3)
    if height < GHOST_NOISES * noise or fraction < GHOST_FRACTION:
        return nothing
    dx, dy = float(shifts[best_col]), float(shifts[best_row])
    return Ghost(float(np.hypot(dx, dy) * 1000), float(np.degrees(np.arctan2(-dy, dx)) % 360), fraction)


def _resample(values: np.ndarray, s: Floats, wanted: Floats) -> Floats:
    """Return profiles at other places, linear between samples."""
    place = np.clip((wanted - s[0]) / (s[1] - s[0]), 0, len(s) - 1.001)
    i = place.astype(np.intp)
    part = (place - i)[None, :]
    return np.asarray(values[:, i] * (1 - part) + values[:, i + 1] * part, dtype=np.float64)


def bevel_ink(sheet: LaidSheet, corners_px: Points, film: float) -> float:
    """Return the density of ink along the plate mark above bare paper, the plate's own film taken off. [D]

    The darkest place of each profile across the mark, averaged along the four sides, minus `film`.
    """
    h, w = sheet.scan.plane.shape
    reach = BEVEL_REACH_MM * float(np.sqrt(abs(np.linalg.det(sheet.laying.affine[:, :2]))))
    steps = np.arange(-reach, reach + 0.5, 1.0)
    darkest = []
    for side in range(4):
        a, b = corners_px[side], corners_px[(side + 1) % 4]
        along = (b - a) / max(float(np.linalg.norm(b - a)), 1e-9)
        normal = np.array([-along[1], along[0]])
        places = a + np.linspace(0.05, 0.95, 200)[:, None] * (b - a)
        xy = places[:, None, :] + steps[None, :, None] * normal
        column, row = np.rint(xy[..., 0]).astype(np.intp), np.rint(xy[..., 1]).astype(np.intp)
        inside = ((column >= 0) & (column < w) & (row >= 0) & (row < h)).all(axis=1)
        if inside.sum() < 20:
            continue
        values = sheet.scan.plane[row[inside], column[inside]] / 65535.0
        level = paper_level(sheet.paper, places[inside, 0], places[inside, 1])
        profile = values / level[:, None]
        smooth = (profile[:, :-2] + profile[:, 1:-1] + profile[:, 2:]) / 3
        darkest.append(float(np.mean(density(np.maximum(smooth.min(axis=1), 1e-3)))))
    return float(np.mean(darkest)) - film if darkest else float("nan")
