"""One set of lines for both states: found on pulls of each, read on all of them alike."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import map_coordinates
from scipy.spatial import cKDTree

from proofkit.arrays import FULL_SCALE, Floats, Index, Mask, Points
from proofkit.laying.reference import ink_picture
from proofkit.laying.standard_lines import (
    StandardLines,
    lines_of_known_width,
    smooth_along,
    standard_lines,
)
from proofkit.laying.types import to_sheet_px
from proofkit.lines.centrelines import find_lines
from proofkit.lines.types import LineMap
from proofkit.measures.types import LaidSheet
from proofkit.reflectance import paper_level
from proofkit.sheet.standard import EDGE_MM, LEAST_RIDGE, LINE_PITCH_MM, RIDGE_NOISES
from proofkit.states.mesh import is_mesh
from proofkit.units import UM_PER_MM

SAME_LINE_MM = 0.05
"""Lines of two pulls this near to each other and parallel are one line: laying leaves 0.01 mm, a recut stroke wanders
by part of its own width (simulated pairs). [mm]"""

SAME_SINE = 0.15
"""... within 9 degrees: twice the finder's own scatter over the 0.15 mm between points (simulated pairs). [-]"""

BROAD_MM = 0.3
"""Half the width of the broadest stroke whose edges may be taken for lines. [mm]"""

WHOLE_INK = 0.8
"""Ink between the edge of a broad stroke and its centre against that of the edge. [-]"""

USUAL_WIDTH_MM = 0.07
"""Width taken for a stroke that is seen in the difference of two sheets only. [mm]"""

BESIDE_MM = 0.25
"""A known line this near to a stroke shares its ground: a usual gap of hatching. [mm]"""

BESIDE_SINE = 0.26
"""Lines within 15 degrees run beside each other: at larger angles a pull shows both for what they are. [-]"""

BESIDE_POINTS = 6
"""Points of known lines that are looked at: two lines of each of two directions, and some more."""

LEAST_NEW_POINTS = 4
"""A stretch of new line has at least this many points (0.6 mm): shorter ones are grain."""


def find_own_lines(sheet: LaidSheet, size_mm: tuple[float, float]) -> StandardLines:
    """Return the lines that one laid sheet shows, in the plate's millimetres.

    Parameters
    ----------
    sheet : LaidSheet
    size_mm : tuple
        Width and height of the plate. [mm]
    """
    scan, paper, laying = sheet.scan, sheet.paper, sheet.laying
    ink = ink_picture(scan.plane, laying, paper.luminance, size_mm, LINE_PITCH_MM)
    found = find_lines(ink, LINE_PITCH_MM, max(LEAST_RIDGE, RIDGE_NOISES * paper.noise))
    found = part_of_lines(found, off_the_edge(found, size_mm))
    return standard_lines(scan.plane, paper, laying, found, sheet.blur_mm, np.zeros(found.size))


def off_the_edge(lines: LineMap, size_mm: tuple[float, float]) -> Mask:
    """Return which points keep off the edge of the plate, where the bevel is."""
    x, y = lines.points_mm.T
    return np.asarray((x > EDGE_MM) & (y > EDGE_MM) & (x < size_mm[0] - EDGE_MM) & (y < size_mm[1] - EDGE_MM))


def part_of_lines(lines: LineMap, keep: Mask) -> LineMap:
    """Return some points of lines; a line that is cut into stretches becomes several."""
    at = np.flatnonzero(keep)
    cut = np.ones(len(at), dtype=np.bool_)
    cut[1:] = (np.diff(at) > 1) | (np.diff(lines.line[at]) != 0)
    number = (np.cumsum(cut) - 1).astype(np.int32)
    return LineMap(lines.points_mm[at], lines.normals[at], number, lines.length_mm[at], lines.contrast[at])


def nearest_alike(lines: LineMap, known: LineMap) -> Index:
    """Return for each point of `lines` a point of `known` on the same line, the nearest one; -1 for none."""
    nearest = np.full(lines.size, -1, dtype=np.intp)
    if not known.size or not lines.size:
        return nearest
    tree = cKDTree(known.points_mm)
    reach = float(np.hypot(SAME_LINE_MM, 0.5 * np.max(known.length_mm, initial=0.15)))
    pairs = cKDTree(lines.points_mm).sparse_distance_matrix(tree, reach, output_type="coo_matrix")
    mine, other = pairs.row, pairs.col
    away = known.points_mm[other] - lines.points_mm[mine]
    across = np.abs((away * known.normals[other]).sum(axis=1))
    sine = np.abs(
        lines.normals[mine, 0] * known.normals[other, 1] - lines.normals[mine, 1] * known.normals[other, 0]
    )
    alike = np.flatnonzero((across < SAME_LINE_MM) & (sine < SAME_SINE))
    far_first = alike[np.argsort(-pairs.data[alike], kind="stable")]
    nearest[mine[far_first]] = other[far_first]
    return nearest


def is_known(lines: LineMap, known: LineMap) -> Mask:
    """Return which points of `lines` lie on a line of `known`."""
    return np.asarray(nearest_alike(lines, known) >= 0)


def ink_at(sheet: LaidSheet, points_mm: Points) -> Floats:
    """Return the ink 1 - R/Rp of a sheet at plate points, straight between its pixels; NaN outside."""
    px = to_sheet_px(sheet.laying, points_mm)
    level = paper_level(sheet.paper, px[:, 0], px[:, 1]) * FULL_SCALE
    codes = map_coordinates(
        sheet.scan.plane, px.T[::-1], output=np.float64, order=1, mode="constant", cval=np.nan
    )
    return np.asarray(1 - codes / level)


def in_known(lines: LineMap, known: LineMap, sheet: LaidSheet) -> Index:
    """Return for each point a point of the known line in whose ink it lies on this sheet; -1 for none.

    A line far broader than the finder's filters answers at its two edges. Between such an edge and the line's known
    centre the ink is whole; between two lines there is a gap.
    """
    inside = np.full(lines.size, -1, dtype=np.intp)
    if not known.size or not lines.size:
        return inside
    nearest = list(range(1, min(3, known.size) + 1))
    away, other = map(np.asarray, cKDTree(known.points_mm).query(lines.points_mm, k=nearest))
    here = ink_at(sheet, lines.points_mm)
    for near, k in zip(away.T[::-1], other.T[::-1], strict=True):
        sine = np.abs(lines.normals[:, 0] * known.normals[k, 1] - lines.normals[:, 1] * known.normals[k, 0])
        beside = (near < BROAD_MM) & (sine < SAME_SINE)
        step = known.points_mm[k] - lines.points_mm
        between = [ink_at(sheet, lines.points_mm + share * step) for share in (0.25, 0.5, 0.75, 1.0)]
        whole = beside & (np.min(between, axis=0) > WHOLE_INK * here)
        inside[whole] = k[whole]
    return inside


def new_stretches(lines: LineMap, known: LineMap, sheet: LaidSheet) -> Mask:
    """Return which points belong to stretches that `known` lacks."""
    return steady_stretches(~is_known(lines, known) & (in_known(lines, known, sheet) < 0), lines)


def steady_stretches(marked: Mask, lines: LineMap) -> Mask:
    """Return stretches of marked points that are long enough; a crossing line does not break one."""
    steady = smooth_along(marked.astype(np.float64), lines.line, 2) > 0.5
    at = np.flatnonzero(steady)
    if not len(at):
        return steady
    cut = np.ones(len(at), dtype=np.bool_)
    cut[1:] = (np.diff(at) > 1) | (np.diff(lines.line[at]) != 0)
    stretch = np.cumsum(cut) - 1
    steady[at[np.bincount(stretch)[stretch] < LEAST_NEW_POINTS]] = False
    return steady


@dataclass(frozen=True, slots=True, eq=False)
class JoinedLines:
    """The lines of both states as one set; arrays run over their points."""

    lines: StandardLines
    found_on: Index
    """(n,) number of the pull on which the line was found."""
    lacks: Index
    """(n,) number of the pull that lacks the line, where it was seen in the difference of the two; -1 elsewhere."""
    hidden: Mask
    """(n,) the line is seen in that difference only, as hatching hides it on the pull itself."""
    mesh: Mask
    """(n,) the line is a piece of a mesh, which is tone and no stroke."""


@dataclass(frozen=True, slots=True, eq=False)
class FoundLines:
    """Lines that one pull shows."""

    pull: int
    """Number of the pull."""
    lines: LineMap
    width_mm: Floats
    load_um: Floats
    lacks: int = -1
    """Number of the pull that lacks them, of lines in the difference of two; -1 of others."""
    hidden: Mask | None = None
    """(n,) seen in the difference only; None for nowhere."""


def found_on(pull: int, lines: StandardLines, away_from: LineMap | None = None) -> FoundLines:
    """Return lines that were found on a pull itself; only those that do not run beside others, if these are given."""
    if away_from is None:
        return FoundLines(pull, lines.lines, lines.spans.width_mm, lines.load_um)
    keep = steady_stretches(~_is_beside(lines.lines, away_from), lines.lines)
    return FoundLines(pull, part_of_lines(lines.lines, keep), lines.spans.width_mm[keep], lines.load_um[keep])


def found_in_difference(
    pull: int, lacks: int, lines: LineMap, own: StandardLines, base: LineMap
) -> FoundLines:
    """Return lines that a pull shows more than another.

    Parameters
    ----------
    pull, lacks : int
        Number of the pull that shows them, and of the one that lacks them.
    lines : LineMap
    own : StandardLines
        All lines that were found on the pull itself: where one of them is the same line, it tells width and load.
    base : LineMap
        Lines of the base: what runs beside one of them cannot be read by its own crossings.
    """
    load = lines.contrast * USUAL_WIDTH_MM * UM_PER_MM
    width = np.full(lines.size, USUAL_WIDTH_MM)
    same = nearest_alike(lines, own.lines)
    seen = same >= 0
    # The pull's own line is part hatching where others cross it densely or run beside it.
    seen &= own.clear[same] & ~_is_beside(lines, base)
    width[seen], load[seen] = own.spans.width_mm[same[seen]], own.load_um[same[seen]]
    return FoundLines(pull, lines, width, load, lacks, ~seen)


def _is_beside(lines: LineMap, known: LineMap) -> Mask:
    """Return which points have a known line near by that runs in about their direction."""
    beside = np.zeros(lines.size, dtype=np.bool_)
    if not known.size or not lines.size:
        return beside
    nearest = list(range(1, min(BESIDE_POINTS, known.size) + 1))
    away, other = map(np.asarray, cKDTree(known.points_mm).query(lines.points_mm, k=nearest))
    for near, k in zip(away.T, other.T, strict=True):
        sine = np.abs(lines.normals[:, 0] * known.normals[k, 1] - lines.normals[:, 1] * known.normals[k, 0])
        beside |= (near < BESIDE_MM) & (sine < BESIDE_SINE)
    return beside


def joined_lines(found: Sequence[FoundLines], sheets: dict[int, LaidSheet]) -> JoinedLines:
    """Return the lines of both states as one set.

    Parameters
    ----------
    found : sequence of FoundLines
        The first one of the base; of the others what the ones before lack is taken. Lines of a difference run over
        the base's lines, if near them, and are held against the lines after it only.
    sheets : dict
        Number of a pull -> the sheet on which lines were found.

    Notes
    -----
    Width and gaps of the whole set decide where the ground of each crossing is read, so that a line that only one
    state has cannot lie in the ground of its neighbour on the other.
    """
    first = found[0]
    lines, width, load = first.lines, first.width_mm, first.load_um
    numbers = np.full(lines.size, first.pull, dtype=np.intp)
    lacks = np.full(lines.size, -1, dtype=np.intp)
    hidden = np.zeros(lines.size, dtype=np.bool_)
    for more in found[1:]:
        if more.lacks < 0:
            keep = new_stretches(more.lines, lines, sheets[more.pull])
        else:
            others = part_of_lines(lines, np.arange(lines.size) >= first.lines.size)
            keep = steady_stretches(~is_known(more.lines, others), more.lines)
        part = part_of_lines(more.lines, keep)
        lines = _joined(lines, part)
        width = np.concatenate((width, more.width_mm[keep]))
        load = np.concatenate((load, more.load_um[keep]))
        numbers = np.concatenate((numbers, np.full(part.size, more.pull, dtype=np.intp)))
        lacks = np.concatenate((lacks, np.full(part.size, more.lacks, dtype=np.intp)))
        unseen = np.zeros(more.lines.size, dtype=np.bool_) if more.hidden is None else more.hidden
        hidden = np.concatenate((hidden, unseen[keep]))
    blur = max(sheet.blur_mm for sheet in sheets.values())
    known = lines_of_known_width(lines, width, blur, load)
    return JoinedLines(known, numbers, lacks, hidden, is_mesh(lines))


def _joined(one: LineMap, other: LineMap) -> LineMap:
    last = int(one.line.max(initial=-1)) + 1
    return LineMap(
        np.concatenate((one.points_mm, other.points_mm)),
        np.concatenate((one.normals, other.normals)),
        np.concatenate((one.line, other.line + last)).astype(np.int32),
        np.concatenate((one.length_mm, other.length_mm)),
        np.concatenate((one.contrast, other.contrast)),
    )
