"""Pieces of line that are no strokes: the mesh of an aquatint, in which the finder sees short turning pieces."""

import numpy as np
from scipy.spatial import cKDTree

from proofkit.arrays import Floats, Mask
from proofkit.lines.types import LineMap

SHORT_MM = 2.0
"""Pieces shorter than this may be mesh: of meshes with grains of 0.08 to 0.25 mm three in four are (simulated). [mm]"""

STEP_POINTS = 3
"""Points from one direction to the next: 0.45 mm, over which the finder's own scatter turns a line by 1 degree."""

TURNING_DEG_PER_MM = 13.0
"""... and so may those that turn more: 95 % of hand-drawn lines turn by less, half of the longer pieces of a mesh by
more (simulated plates). [deg/mm]"""

AROUND_MM = 1.0
"""How far around a piece others are looked at. [mm]"""

LEAST_DENSITY = 2.0
"""A mesh has at least so much length of such pieces around. [mm/mm²]"""

MOST_ORDER = 0.6
"""... which run in no common direction: 1 = all parallel, 0 = all directions alike. [-]"""


def is_mesh(lines: LineMap) -> Mask:
    """Return which points belong to pieces of a mesh rather than to strokes.

    Parameters
    ----------
    lines : LineMap

    Notes
    -----
    A short piece alone is a stroke, as are short pieces side by side; pieces that lie close together in no order are
    the ground of an aquatint, or flicks of stipple, and are read as tone. Strokes that run through a mesh stay strokes.
    """
    mesh = np.zeros(lines.size, dtype=np.bool_)
    if not lines.size:
        return mesh
    count = int(lines.line.max()) + 1
    length = np.bincount(lines.line, weights=lines.length_mm, minlength=count)
    loose = (length < SHORT_MM) | (turning_deg_per_mm(lines) > TURNING_DEG_PER_MM)
    at = np.flatnonzero(loose[lines.line])
    if not len(at):
        return mesh
    double = 2 * np.arctan2(lines.normals[at, 1], lines.normals[at, 0])
    share = lines.length_mm[at]
    sums = np.column_stack((share, share * np.cos(double), share * np.sin(double)))
    near = cKDTree(lines.points_mm[at]).query_ball_point(lines.points_mm[at], AROUND_MM)
    around = np.array([sums[one].sum(axis=0) for one in near])
    dense = around[:, 0] > LEAST_DENSITY * np.pi * AROUND_MM**2
    order = np.hypot(around[:, 1], around[:, 2]) / around[:, 0]
    tangled = np.bincount(lines.line[at], weights=share * (dense & (order < MOST_ORDER)), minlength=count)
    return np.asarray((loose & (tangled > 0.5 * length))[lines.line])


def turning_deg_per_mm(lines: LineMap) -> Floats:
    """Return by how much each line turns per length, by its number; 0 for lines too short to say."""
    count = int(lines.line.max(initial=-1)) + 1
    result = np.zeros(count)
    starts = np.searchsorted(lines.line, np.arange(count + 1))
    for number in range(count):
        course = lines.points_mm[starts[number] : starts[number + 1] : STEP_POINTS]
        if len(course) < 3:
            continue
        step = np.diff(course, axis=0)
        turn = np.diff(np.arctan2(step[:, 1], step[:, 0]))
        turn = np.abs(np.mod(turn + np.pi, 2 * np.pi) - np.pi)
        result[number] = np.degrees(turn.sum()) / max(float(np.hypot(*step.T).sum()), 1e-9)
    return result
