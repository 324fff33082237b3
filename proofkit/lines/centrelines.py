"""Picture of ink -> centrelines in plate mm."""

import numpy as np

from proofkit.arrays import INK_SCALE, Ink, Points
from proofkit.lines.kernels import link_points
from proofkit.lines.lattice import without_rows
from proofkit.lines.ridges import find_ridges
from proofkit.lines.tracing_kernels import places_along, rise, smoothed, spaced, to_its_ends
from proofkit.lines.types import LineMap

POINT_SPACING_MM = 0.15
"""Distance of the kept points along a line: about the correlation length of paper grain. [mm]"""

SHORTEST_LINE_MM = 0.5
"""Shorter pieces are grain, dust or texture, not a stroke (choice of ours). [mm]"""

LEAST_RISE = 0.12
"""A line's palest third rises from its sides by this share of the line's own ink. [-]"""

SIDE_OFFSETS_PX = (2.0, 4.0, 8.0)
"""Where the sides are looked at: beside a fine, a usual and a broad line, like the ridge filters in pixels of the
picture, so that lines of pencil, three times as broad and sought at three times the pitch, are not compared with
themselves; 0.06 to 0.24 mm for prints. [px]"""

END_REACH_MM = 0.3
"""How far beyond its last ridge point a line's end is looked for. [mm]"""

BRIDGE_MM = 0.25
"""Widest break that is bridged when both ends point at each other: a crossing line's width. [mm]"""


def find_lines(ink: Ink, pitch_mm: float, threshold: float) -> LineMap:
    """Return the centrelines of a rectified picture of ink.

    Parameters
    ----------
    ink : Ink
        (h, w) picture of the plate; pixel (0, 0) has its centre at plate point (0, 0). [codes]
    pitch_mm : float
        Side of a pixel in plate mm.
    threshold : float
        Weakest ridge that counts, several times the answer of bare grain, as 1 - R/Rp. [-]

    Returns
    -------
    LineMap
        Points about 0.15 mm apart; breaks up to 0.25 mm are bridged where both ends point at each other.
    """
    least = threshold * INK_SCALE
    ridges = find_ridges(ink, least)
    floor = float(np.percentile(ink[::4, ::4], 2))
    order = np.argsort(-ridges.strength, kind="stable")
    chain, lengths = link_points(
        ridges.x, ridges.y, ridges.direction, order, ink, BRIDGE_MM / pitch_mm, floor
    )
    pieces = np.split(chain, np.cumsum(lengths)[:-1]) if len(lengths) else []
    found_points: list[Points] = []
    normals: list[Points] = []
    contrasts: list[float] = []
    lengths_mm: list[float] = []
    # A line that is worth its ends being looked for shows at least half its shortest length as ridge.
    shortest = max(4, int(0.5 * SHORTEST_LINE_MM / pitch_mm))
    sides = np.array(SIDE_OFFSETS_PX)
    for piece in pieces:
        if len(piece) < shortest:
            continue
        strength = float(np.median(ridges.strength[piece]))
        if strength < 1.3 * least:
            continue
        raw = smoothed(ridges.x[piece], ridges.y[piece], 2)
        points = to_its_ends(raw, ink, floor, END_REACH_MM / pitch_mm)
        length = pitch_mm * float(places_along(points)[-1])
        if length < SHORTEST_LINE_MM or rise(points, ink, floor, sides) <= LEAST_RISE:
            continue
        at, across = spaced(points * pitch_mm, POINT_SPACING_MM)
        found_points.append(at)
        normals.append(across)
        contrasts.append(strength / INK_SCALE)
        lengths_mm.append(length / len(at))
    numbers = [len(at) for at in found_points]
    if not numbers:
        empty = np.empty((0, 2))
        return LineMap(empty, empty, np.empty(0, dtype=np.int32), np.empty(0), np.empty(0))
    return without_rows(
        LineMap(
            np.concatenate(found_points),
            np.concatenate(normals),
            np.repeat(np.arange(len(numbers), dtype=np.int32), numbers),
            np.repeat(np.asarray(lengths_mm), numbers),
            np.repeat(np.asarray(contrasts), numbers),
        ),
        POINT_SPACING_MM,
    )
