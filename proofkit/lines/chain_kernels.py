"""Compiled way from chains of ridge points to lines: those that are one, to their ends, with evenly spaced points."""

from typing import TypeAlias

import numpy as np

from proofkit.arrays import Floats, Index, Ink, Points
from proofkit.lines.tracing_kernels import places_along, rise, smoothed, spaced, to_its_ends
from proofkit.scan.compiling import kernel

ChainLines: TypeAlias = tuple[Points, Points, Index, Floats, Floats]
"""Points and normals of all lines, one after the other; of each line the number of its points, the median strength of
its ridge, and the length that each point stands for."""

SMOOTHING = 2
"""Ridge points to each side over which a course is averaged."""


@kernel
def _longer(table: Points, used: int, more: int) -> Points:
    """Return a table with room for `more` rows after the first `used`: itself, or one twice as long."""
    if used + more <= len(table):
        return table
    longer = np.empty((2 * (used + more), 2))
    longer[:used] = table[:used]
    return longer


@kernel
def chains_to_lines(
    chain: Index,
    lengths: Index,
    x: Floats,
    y: Floats,
    strength: Floats,
    ink: Ink,
    floor: float,
    pitch_mm: float,
    limits: Floats,
    sides: Floats,
) -> ChainLines:
    """Return the lines that chains of ridge points make.

    Parameters
    ----------
    chain, lengths : Index
        Numbers of ridge points, chain after chain, and how many each chain has.
    x, y, strength : Floats
        Of all ridge points. [px], [codes]
    ink, floor
        The picture and the level of its clean ground. [codes]
    pitch_mm : float
        Side of a pixel. [mm]
    limits : (6,)
        Fewest ridge points of a chain; weakest median strength [codes]; how far an end is looked for [mm]; shortest
        line [mm]; least rise, see `rise` [-]; spacing of the points [mm].
    sides : Floats
        Where the sides of a line are looked at. [px]
    """
    points, normals = np.empty((1024, 2)), np.empty((1024, 2))
    counts = np.empty(lengths.size, dtype=np.int64)
    strengths, point_mm = np.empty(lengths.size), np.empty(lengths.size)
    used, lines, first = 0, 0, 0
    for length in lengths:
        piece = chain[first : first + length]
        first += length
        if length < limits[0]:
            continue
        middle = np.median(strength[piece])
        if middle < limits[1]:
            continue
        course = to_its_ends(smoothed(x[piece], y[piece], SMOOTHING), ink, floor, limits[2] / pitch_mm)
        length_mm = pitch_mm * places_along(course)[-1]
        if length_mm < limits[3] or rise(course, ink, floor, sides) <= limits[4]:
            continue
        at, across = spaced(course * pitch_mm, limits[5])
        count = len(at)
        points, normals = _longer(points, used, count), _longer(normals, used, count)
        points[used : used + count] = at
        normals[used : used + count] = across
        counts[lines], strengths[lines], point_mm[lines] = count, middle, length_mm / count
        used += count
        lines += 1
    return (
        points[:used].copy(),
        normals[:used].copy(),
        counts[:lines].copy(),
        strengths[:lines].copy(),
        point_mm[:lines].copy(),
    )
