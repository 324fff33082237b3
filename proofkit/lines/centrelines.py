"""Picture of ink -> centrelines in plate mm."""

import numpy as np

from proofkit.arrays import INK_SCALE, Ink
from proofkit.lines.chain_kernels import ChainLines, chains_to_lines
from proofkit.lines.lattice import without_rows
from proofkit.lines.linking_kernels import link_points
from proofkit.lines.ridges import find_ridges
from proofkit.lines.types import LineMap
from proofkit.threads import each_in_order

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


PARTS = 16
"""Parts of all chains that are worked on side by side."""


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
    # A line that is worth its ends being looked for shows at least half its shortest length as ridge.
    shortest = max(4, int(0.5 * SHORTEST_LINE_MM / pitch_mm))
    limits = np.array([shortest, 1.3 * least, END_REACH_MM, SHORTEST_LINE_MM, LEAST_RISE, POINT_SPACING_MM])
    sides = np.array(SIDE_OFFSETS_PX)
    ends = np.cumsum(lengths)

    def lines_of(part: slice) -> ChainLines:
        if not len(lengths[part]):
            return chains_to_lines(chain[:0], lengths[:0], *columns, ink, floor, pitch_mm, limits, sides)
        begin, end = ends[part.start] - lengths[part.start], ends[part.stop - 1]
        return chains_to_lines(chain[begin:end], lengths[part], *columns, ink, floor, pitch_mm, limits, sides)

    columns = ridges.x, ridges.y, ridges.strength
    found = each_in_order(lines_of, _parts(len(lengths)))
    at, across, counts, contrasts, lengths_mm = (np.concatenate(parts) for parts in zip(*found, strict=True))
    lines = LineMap(
        at,
        across,
        np.repeat(np.arange(len(counts), dtype=np.int32), counts),
        np.repeat(lengths_mm, counts),
        np.repeat(contrasts / INK_SCALE, counts),
    )
    return without_rows(lines, POINT_SPACING_MM) if lines.size else lines


def _parts(count: int) -> list[slice]:
    """Return even parts of so many chains, at least one."""
    step = max(-(-count // PARTS), 1)
    return [slice(first, min(first + step, count)) for first in range(0, max(count, 1), step)]
