"""One set of lines for both states: found on pulls of each, read on all of them alike."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.ndimage import map_coordinates
from scipy.spatial import cKDTree

from proofkit.arrays import FULL_SCALE, Floats, Mask, Picture, Points
from proofkit.laying.rectify import Box, plate_box, rectify
from proofkit.laying.reference import BAND_ROWS, encode_ink, ink_picture
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

LEAST_DIFFERENCE = 0.05
"""Faintest difference of two sheets that may be a stroke, 1 - R/Rp; grain and laying leave 0.02 (simulated). [-]"""

USUAL_WIDTH_MM = 0.07
"""Width taken for a stroke that is seen in the difference of two sheets only. [mm]"""

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
    found = part_of_lines(found, _off_the_edge(found, size_mm))
    return standard_lines(scan.plane, paper, laying, found, sheet.blur_mm, np.zeros(found.size))


def difference_lines(more: LaidSheet, less: LaidSheet, size_mm: tuple[float, float]) -> LineMap:
    """Return lines of the ink that one sheet has more than another: strokes that hatching hides on the sheet itself.

    Parameters
    ----------
    more, less : LaidSheet
    size_mm : tuple
        Width and height of the plate. [mm]

    Notes
    -----
    Strokes that print broader on one of the sheets answer too; they lie on known lines and are left out later.
    """
    box = plate_box(*size_mm, LINE_PITCH_MM)
    extra = np.empty((box.rows, box.columns), dtype=np.uint8)
    for top in range(0, box.rows, BAND_ROWS):
        rows = min(BAND_ROWS, box.rows - top)
        band = Box(box.x0_mm, box.y0_mm + top * LINE_PITCH_MM, box.columns, rows, LINE_PITCH_MM)
        extra[top : top + rows] = encode_ink(1 - (_ink_of(more, band) - _ink_of(less, band)), 1.0)
    noise = float(np.hypot(more.paper.noise, less.paper.noise))
    found = find_lines(extra, LINE_PITCH_MM, max(LEAST_DIFFERENCE, RIDGE_NOISES * noise))
    return part_of_lines(found, _off_the_edge(found, size_mm))


def _ink_of(sheet: LaidSheet, box: Box) -> Picture:
    """Return ink 1 - R/Rp on the cells of a box; none outside the scan."""
    picture = rectify(sheet.scan.plane, sheet.laying, box)
    return np.asarray(1 - np.nan_to_num(picture / np.float32(sheet.paper.luminance), nan=1.0))


def _off_the_edge(lines: LineMap, size_mm: tuple[float, float]) -> Mask:
    x, y = lines.points_mm.T
    return np.asarray((x > EDGE_MM) & (y > EDGE_MM) & (x < size_mm[0] - EDGE_MM) & (y < size_mm[1] - EDGE_MM))


def part_of_lines(lines: LineMap, keep: Mask) -> LineMap:
    """Return some points of lines; a line that is cut into stretches becomes several."""
    at = np.flatnonzero(keep)
    cut = np.ones(len(at), dtype=np.bool_)
    cut[1:] = (np.diff(at) > 1) | (np.diff(lines.line[at]) != 0)
    number = (np.cumsum(cut) - 1).astype(np.int32)
    return LineMap(lines.points_mm[at], lines.normals[at], number, lines.length_mm[at], lines.contrast[at])


def is_known(lines: LineMap, known: LineMap) -> Mask:
    """Return which points of `lines` lie on a line of `known`."""
    if not known.size or not lines.size:
        return np.zeros(lines.size, dtype=np.bool_)
    tree = cKDTree(known.points_mm)
    reach = float(np.hypot(SAME_LINE_MM, 0.5 * np.max(known.length_mm, initial=0.15)))
    found = np.zeros(lines.size, dtype=np.bool_)
    pairs = cKDTree(lines.points_mm).sparse_distance_matrix(tree, reach, output_type="coo_matrix")
    mine, other = pairs.row, pairs.col
    away = known.points_mm[other] - lines.points_mm[mine]
    across = np.abs((away * known.normals[other]).sum(axis=1))
    sine = np.abs(
        lines.normals[mine, 0] * known.normals[other, 1] - lines.normals[mine, 1] * known.normals[other, 0]
    )
    found[mine[(across < SAME_LINE_MM) & (sine < SAME_SINE)]] = True
    return found


def ink_at(sheet: LaidSheet, points_mm: Points) -> Floats:
    """Return the ink 1 - R/Rp of a sheet at plate points, straight between its pixels; NaN outside."""
    px = to_sheet_px(sheet.laying, points_mm)
    level = paper_level(sheet.paper, px[:, 0], px[:, 1]) * FULL_SCALE
    codes = map_coordinates(
        sheet.scan.plane, px.T[::-1], output=np.float64, order=1, mode="constant", cval=np.nan
    )
    return np.asarray(1 - codes / level)


def is_in_known(lines: LineMap, known: LineMap, sheet: LaidSheet) -> Mask:
    """Return which points lie in the ink of a known line that prints much broader on this sheet.

    A line far broader than the finder's filters answers at its two edges. Between such an edge and the line's known
    centre the ink is whole; between two lines there is a gap.
    """
    inside = np.zeros(lines.size, dtype=np.bool_)
    if not known.size or not lines.size:
        return inside
    nearest = list(range(1, min(3, known.size) + 1))
    away, other = map(np.asarray, cKDTree(known.points_mm).query(lines.points_mm, k=nearest))
    here = ink_at(sheet, lines.points_mm)
    for near, k in zip(away.T, other.T, strict=True):
        sine = np.abs(lines.normals[:, 0] * known.normals[k, 1] - lines.normals[:, 1] * known.normals[k, 0])
        beside = (near < BROAD_MM) & (sine < SAME_SINE)
        step = known.points_mm[k] - lines.points_mm
        between = [ink_at(sheet, lines.points_mm + share * step) for share in (0.25, 0.5, 0.75, 1.0)]
        inside |= beside & (np.min(between, axis=0) > WHOLE_INK * here)
    return inside


def _new_stretches(lines: LineMap, known: LineMap, sheet: LaidSheet) -> Mask:
    """Return which points belong to stretches that `known` lacks; a crossing line does not break a stretch."""
    new = (~is_known(lines, known) & ~is_in_known(lines, known, sheet)).astype(np.float64)
    steady = smooth_along(new, lines.line, 2) > 0.5
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
    found_on: npt.NDArray[np.intp]
    """(n,) number of the pull on which the line was found."""
    hidden: Mask
    """(n,) the line is seen in the difference of two pulls only, as hatching hides it."""


@dataclass(frozen=True, slots=True, eq=False)
class FoundLines:
    """Lines that one pull shows."""

    pull: int
    """Number of the pull."""
    lines: LineMap
    width_mm: Floats
    load_um: Floats
    hidden: bool = False
    """Seen in the difference to another pull only."""


def found_on(pull: int, lines: StandardLines) -> FoundLines:
    """Return lines that were found on a pull itself."""
    return FoundLines(pull, lines.lines, lines.spans.width_mm, lines.load_um)


def found_in_difference(pull: int, lines: LineMap) -> FoundLines:
    """Return lines that a pull shows more than another; their width is not known yet."""
    load = lines.contrast * USUAL_WIDTH_MM * UM_PER_MM
    return FoundLines(pull, lines, np.full(lines.size, USUAL_WIDTH_MM), load, hidden=True)


def joined_lines(found: Sequence[FoundLines], sheets: dict[int, LaidSheet]) -> JoinedLines:
    """Return the lines of both states as one set.

    Parameters
    ----------
    found : sequence of FoundLines
        The first one of the base; of the others what the ones before lack is taken.
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
    hidden = np.full(lines.size, first.hidden)
    for more in found[1:]:
        keep = _new_stretches(more.lines, lines, sheets[more.pull])
        part = part_of_lines(more.lines, keep)
        lines = _joined(lines, part)
        width = np.concatenate((width, more.width_mm[keep]))
        load = np.concatenate((load, more.load_um[keep]))
        numbers = np.concatenate((numbers, np.full(part.size, more.pull, dtype=np.intp)))
        hidden = np.concatenate((hidden, np.full(part.size, more.hidden)))
    blur = max(sheet.blur_mm for sheet in sheets.values())
    return JoinedLines(lines_of_known_width(lines, width, blur, load), numbers, hidden)


def _joined(one: LineMap, other: LineMap) -> LineMap:
    last = int(one.line.max(initial=-1)) + 1
    return LineMap(
        np.concatenate((one.points_mm, other.points_mm)),
        np.concatenate((one.normals, other.normals)),
        np.concatenate((one.line, other.line + last)).astype(np.int32),
        np.concatenate((one.length_mm, other.length_mm)),
        np.concatenate((one.contrast, other.contrast)),
    )
