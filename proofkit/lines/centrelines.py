"""Picture of ink -> centrelines in plate mm."""

import numpy as np
from scipy.ndimage import map_coordinates

from proofkit.arrays import INK_SCALE, Floats, Ink, Points
from proofkit.lines.kernels import link_points
from proofkit.lines.nearness_kernels import overruled_by_two
from proofkit.lines.ridges import find_ridges
from proofkit.lines.types import LineMap

POINT_SPACING_MM = 0.15
"""Distance of the kept points along a line: about the correlation length of paper grain. [mm]"""

SHORTEST_LINE_MM = 0.5
"""Shorter pieces are grain, dust or texture, not a stroke (choice of ours). [mm]"""

LEAST_RISE = 0.12
"""A line's palest third rises from its sides by this share of the line's own ink. [-]"""

SIDE_OFFSETS_MM = (0.06, 0.12, 0.24)
"""Where the sides are looked at: beside a fine, a usual and a broad line. [mm]"""

DIAGONAL_RATIO = 1.5
"""Lines of a lattice are about twice as strong as its diagonals (simulated cross-hatching). [-]"""

DIAGONAL_REACH_MM = 0.22
"""About one spacing of dense cross-hatching. [mm]"""

DIAGONAL_SHARE = 0.6
"""Share of a line's points that must be overruled. [-]"""

APART_SINE = 0.34
"""Directions more than 20 degrees apart. [-]"""

END_REACH_MM = 0.3
"""How far beyond its last ridge point a line's end is looked for. [mm]"""

BRIDGE_MM = 0.25
"""Widest break that is bridged when both ends point at each other: a crossing line's width. [mm]"""


def _smooth(points: Points, half_width: int) -> Points:
    """Return `points` smoothed by a moving average that narrows towards the ends."""
    n = len(points)
    sums = np.vstack((np.zeros((1, 2)), np.cumsum(points, axis=0)))
    index = np.arange(n)
    reach = np.minimum(np.minimum(index, n - 1 - index), half_width)
    return np.asarray((sums[index + reach + 1] - sums[index - reach]) / (2 * reach + 1)[:, None])


def _resample(points: Points, strength: float) -> tuple[Points, Points, Floats]:
    """Return points about every 0.15 mm along a line, their normals, and the line's strength at each."""
    spacing = POINT_SPACING_MM
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    place = np.concatenate(([0.0], np.cumsum(steps)))
    length = place[-1]
    count = max(round(length / spacing), 1)
    wanted = (np.arange(count) + 0.5) * (length / count)
    xy = np.column_stack([np.interp(wanted, place, points[:, axis]) for axis in (0, 1)])
    ends = np.clip(np.vstack((wanted - spacing / 2, wanted + spacing / 2)), 0, length)
    ahead = np.column_stack([np.interp(ends[1], place, points[:, a]) for a in (0, 1)])
    behind = np.column_stack([np.interp(ends[0], place, points[:, a]) for a in (0, 1)])
    tangent = ahead - behind
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-12)
    normal = np.column_stack((-tangent[:, 1], tangent[:, 0]))
    return xy, normal, np.full(count, strength)


def _stands_out(points_px: Points, ink: Ink, floor: float, pitch_mm: float) -> bool:
    """Return whether a path is darker than both its sides where it is palest.

    The diagonals of cross-hatching and rows of line ends are dark only where real lines pass; between those they
    run through white gaps, where both sides are as dark or darker. A real line is palest between its crossings,
    and there it stands out from its ground.
    """
    steps = np.linalg.norm(np.diff(points_px, axis=0), axis=1)
    place = np.concatenate(([0.0], np.cumsum(steps)))
    wanted = np.arange(0.0, place[-1], 0.7)
    path = np.column_stack([np.interp(wanted, place, points_px[:, axis]) for axis in (0, 1)])
    tangent = np.gradient(path, axis=0)
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-9)
    normal = np.column_stack((-tangent[:, 1], tangent[:, 0]))

    def dark(xy: Points) -> Floats:
        return np.asarray(
            map_coordinates(ink, xy.T[::-1], output=np.float64, order=1, mode="nearest") - floor
        )

    here = dark(path)
    pale = here <= np.percentile(here, 30)
    sides = [
        (
            dark(path[pale] + offset / pitch_mm * normal[pale])
            + dark(path[pale] - offset / pitch_mm * normal[pale])
        )
        / 2
        for offset in SIDE_OFFSETS_MM
    ]
    rise = here[pale] - np.min(sides, axis=0)
    return bool(np.median(rise) > LEAST_RISE * np.median(here))


def _to_its_ends(points_px: Points, ink: Ink, floor: float, reach: float) -> Points:
    """Return a line that ends where its ink falls to half of what it has a little further in.

    Ridges of fine lines run over the end by part of the filter's length, those of broad lines stop short of it.
    """
    for _ in range(2):
        inner = points_px[min(4, len(points_px) - 1)]
        heading = points_px[0] - inner
        heading /= max(float(np.linalg.norm(heading)), 1e-9)
        way = (
            inner
            + np.arange(0.0, float(np.linalg.norm(points_px[0] - inner)) + reach, 0.5)[:, None] * heading
        )
        # Beyond the picture there is no ink: a line that runs off it ends at its border.
        seen = map_coordinates(ink, way.T[::-1], output=np.float64, order=1, mode="constant", cval=floor)
        dark = seen - floor
        pale = np.flatnonzero(dark < 0.5 * np.median(dark[:5]))
        if len(pale) and pale[0] > 0:
            body = points_px[min(4, len(points_px) - 1) :]
            points_px = np.vstack((way[pale[0] - 1], way[pale[0] // 2], body)) if len(body) > 1 else points_px
        points_px = points_px[::-1]
    return points_px


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
    contrasts: list[Floats] = []
    numbers: list[int] = []
    lengths_mm: list[float] = []
    # A line that is worth its ends being looked for shows at least half its shortest length as ridge.
    shortest = max(4, int(0.5 * SHORTEST_LINE_MM / pitch_mm))
    for piece in pieces:
        if len(piece) < shortest:
            continue
        strength = ridges.strength[piece]
        if np.median(strength) < 1.3 * least:
            continue
        raw = np.column_stack((ridges.x[piece], ridges.y[piece]))
        points = _to_its_ends(_smooth(raw, 2), ink, floor, END_REACH_MM / pitch_mm)
        length = pitch_mm * float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
        if length < SHORTEST_LINE_MM or not _stands_out(points, ink, floor, pitch_mm):
            continue
        points *= pitch_mm
        xy, normal, contrast = _resample(points, float(np.median(strength)) / INK_SCALE)
        found_points.append(xy)
        normals.append(normal)
        contrasts.append(contrast)
        numbers.append(len(xy))
        lengths_mm.append(length / len(xy))
    if not numbers:
        empty = np.empty((0, 2))
        return LineMap(empty, empty, np.empty(0, dtype=np.int32), np.empty(0), np.empty(0))
    return _without_diagonals(
        LineMap(
            np.concatenate(found_points),
            np.concatenate(normals),
            np.repeat(np.arange(len(numbers), dtype=np.int32), numbers),
            np.repeat(np.asarray(lengths_mm), numbers),
            np.concatenate(contrasts),
        )
    )


def _without_diagonals(lines: LineMap) -> LineMap:
    """Return the lines without the diagonals of cross-hatching.

    A row of crossings is a weak ridge that follows the dark way from one crossing to the next. It always has
    clearly stronger lines of two other directions beside it, all along.
    """
    x, y = lines.points_mm[:, 0].copy(), lines.points_mm[:, 1].copy()
    nx, ny = lines.normals[:, 0].copy(), lines.normals[:, 1].copy()
    overruled = overruled_by_two(
        x, y, nx, ny, lines.contrast, 0.2, DIAGONAL_REACH_MM, DIAGONAL_RATIO, APART_SINE
    )
    share = np.bincount(lines.line, weights=overruled) / np.bincount(lines.line)
    keep = (share < DIAGONAL_SHARE)[lines.line]
    number = np.unique(lines.line[keep], return_inverse=True)[1].astype(np.int32)
    return LineMap(
        lines.points_mm[keep], lines.normals[keep], number, lines.length_mm[keep], lines.contrast[keep]
    )
