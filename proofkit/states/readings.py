"""Read one pull at the lines of both states, and put the readings of all pulls together."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from proofkit.arrays import Floats, Mask, Numbers
from proofkit.laying.standard_lines import CHUNK, StandardLines, line_profiles, read_crossings
from proofkit.measures.types import LaidSheet
from proofkit.states.differences import stands_out
from proofkit.states.lines import JoinedLines, part_of_lines
from proofkit.states.types import SharedLines, Side
from proofkit.units import UM_PER_MM

REACH_MM = 0.05
"""How far from its place a line is looked for on another pull. [mm]"""

SIDE_MM = 0.02
"""Half width of the strips beside a line in which its ground is read where lines cross. [mm]"""

SHUT_SHARE = 0.75
"""Ground darker than this share of that near by is ink: film varies by some hundredths only. [-]"""

GROUND_NEIGHBOURS = 40

DIP_POINTS = 5
"""Points to each side over which a dip is averaged: 1.6 mm of line, several lines of dense cross-hatching."""


@dataclass(frozen=True, slots=True, eq=False)
class PullReading:
    """What one pull says at every crossing; all (n,)."""

    load_um: Floats
    span_um: Floats
    """All ink from gap to gap against the ground of the neighbourhood. [µm]"""
    shut: Mask
    """Ink fills the gaps, so that the ground cannot be read."""
    dip: Floats
    taken: Floats
    """Share of the light of a first pull that a line takes which that one lacks; NaN for lines of the base. [-]"""
    ground: Floats
    """Ground of the neighbourhood, R/Rp."""


def read_pull(sheet: LaidSheet, joined: JoinedLines, firsts: dict[int, LaidSheet]) -> PullReading:
    """Return what a laid sheet says at every crossing.

    Parameters
    ----------
    sheet : LaidSheet
    joined : JoinedLines
        The n crossings.
    firsts : dict
        Number of a pull that lacks a line -> that pull: lines of a difference are read in the difference from it.
    """
    lines = joined.lines
    reach = np.minimum(REACH_MM, 0.3 * lines.spacing_mm)
    values = read_crossings(sheet.scan.plane, sheet.paper, sheet.laying, lines.places, sheet.blur_mm, reach)
    dip, mean = read_along(sheet, lines)
    taken = np.full(dip.size, np.nan)
    for lacks, first in firsts.items():
        # Lines that were found on the later pull itself are held against the base as well.
        own = (joined.lacks == lacks) | ((joined.lacks < 0) & (joined.found_on > lacks))
        if own.any():
            chains = part_of_lines(lines.lines, own)
            taken[own] = stands_out(sheet, first, chains, lines.spans.width_mm[own], DIP_POINTS)
    dip = np.where(joined.lacks >= 0, taken, dip)
    near = ground_near(values.ground, lines)
    width = lines.spans.left_mm + lines.spans.right_mm
    return PullReading(
        load_um=values.load_um,
        span_um=(1 - mean / near) * width * UM_PER_MM,
        shut=values.ground < SHUT_SHARE * near,
        dip=dip,
        taken=taken,
        ground=near,
    )


def put_together(joined: JoinedLines, sides: Sequence[Side], readings: Sequence[PullReading]) -> SharedLines:
    """Return the readings of all pulls on the same footing, the base first.

    Where ink shuts the gap on any pull, all of them are read from gap to gap.
    """
    shut = np.any([reading.shut for reading in readings], axis=0)
    loads = np.stack([reading.load_um for reading in readings])
    spans = np.stack([reading.span_um for reading in readings])
    return SharedLines(
        lines=joined.lines,
        found_on=joined.found_on,
        hidden=joined.hidden,
        is_difference=joined.lacks >= 0,
        mesh=joined.mesh,
        sides=tuple(sides),
        load_um=np.where(shut, spans, loads),
        dip=np.stack([reading.dip for reading in readings]),
        taken=np.stack([reading.taken for reading in readings]),
        ground=np.stack([reading.ground for reading in readings]),
    )


def read_along(sheet: LaidSheet, lines: StandardLines) -> tuple[Floats, Floats]:
    """Return how much darker every line is than its ground, averaged along it, and the mean R/Rp over its span.

    Both are (n,). Where other lines cross so densely that no crossing is clear, the mean over a millimetre and more
    of line still tells whether it is there: what crosses darkens the line and both its sides alike. Profiles are read
    at right angles, with no lean.
    """
    dips, means = np.full(lines.lines.size, np.nan), np.full(lines.lines.size, np.nan)
    for start in range(0, lines.lines.size, CHUNK):
        cut = slice(start, start + CHUNK)
        width = lines.spans.width_mm[cut]
        left, right = lines.spans.left_mm[cut, None], lines.spans.right_mm[cut, None]
        half = float(np.max(np.maximum(left, right), initial=0.05)) + SIDE_MM
        profiles = line_profiles(
            sheet.scan.plane, sheet.paper, sheet.laying, lines.lines.points_mm[cut], lines.lines.normals[cut], half
        )  # fmt: skip
        s = profiles.s_mm[None, :]
        values = profiles.values.astype(np.float64)

        def mean(where: Mask, values: Floats = values) -> Floats:
            return np.asarray((values * where).sum(axis=1) / np.maximum(where.sum(axis=1), 1))

        core = mean(np.abs(s) <= np.maximum(width / 3, 0.01)[:, None])
        dips[cut] = (mean(np.abs(s + left) <= SIDE_MM) + mean(np.abs(s - right) <= SIDE_MM)) / 2 - core
        means[cut] = mean((s >= -left) & (s <= right))
    return _mean_along(dips, lines.lines.line, DIP_POINTS), means


def ground_near(ground: Floats, lines: StandardLines) -> Floats:
    """Return the ground R/Rp of each point's neighbourhood: the upper quartile, as ink can only darken it."""
    known = np.flatnonzero(np.isfinite(ground))[::3]
    if not known.size:
        return np.full(ground.size, np.nan)
    tree = cKDTree(lines.lines.points_mm[known])
    near = tree.query(lines.lines.points_mm, k=min(GROUND_NEIGHBOURS, known.size))[1].reshape(ground.size, -1)
    return np.asarray(np.percentile(ground[known][near], 75, axis=1))


def _mean_along(values: Floats, line: Numbers, half_width: int) -> Floats:
    """Return the running mean along each line over ``2 half_width + 1`` points, fewer at its ends."""
    total, count = np.zeros(values.size), np.zeros(values.size)
    known = np.isfinite(values)
    half_width = min(half_width, values.size - 1)
    for shift in range(-half_width, half_width + 1):
        mine = slice(max(-shift, 0), values.size - max(shift, 0))
        other = slice(max(shift, 0), values.size - max(-shift, 0))
        use = (line[mine] == line[other]) & known[other]
        total[mine] += np.where(use, values[other], 0.0)
        count[mine] += use
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)
