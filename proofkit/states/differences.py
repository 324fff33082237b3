"""Strokes that hatching hides: seen in what one sheet has more than another, and read there as well."""

import numpy as np
from scipy.ndimage import gaussian_filter

from proofkit.arrays import Floats, Mask, Numbers, Picture
from proofkit.laying.rectify import Box, plate_box
from proofkit.laying.reference import BAND_ROWS, encode_ink
from proofkit.laying.standard_lines import CHUNK, line_profiles
from proofkit.lines.centrelines import find_lines
from proofkit.lines.linking import linked
from proofkit.lines.types import LineMap
from proofkit.measures.types import LaidSheet
from proofkit.sheet.standard import LINE_PITCH_MM, RIDGE_NOISES
from proofkit.states.along import LEAST_CONTRAST, changed_sides, is_along
from proofkit.states.carrying import LEAST_SIDE, carried_on
from proofkit.states.lines import off_the_edge, part_of_lines, steady_stretches
from proofkit.states.strokes import GAP_MM
from proofkit.states.tone_response import foretold, light_of, tone_response

LEAST_DIFFERENCE = 0.05
"""Faintest difference of two sheets that may be a stroke, 1 - R/Rp; grain and laying leave 0.02 (simulated). [-]"""

FILL_MM = 0.03
"""Ink over ink shows no difference: what the ground beside shows is taken across a dark line, by a blur of this
standard deviation, half the width of a usual line. [mm]"""

FILL_LIGHT = 0.1
"""Light that is added where light is divided by: grain in the dark is not blown up. R/Rp [-]"""

CARRIED_SLOPE = 0.012
"""A stroke that was carried on runs over a known line if it leaves it by at least this, 0.7 degree, as it is known
beyond; sides of recut lines keep to 0.007 (simulated pairs). [-]"""

RIDE_POINTS = 8
"""A stroke that was carried on keeps to no known line for so long (1.2 mm): it would be the side of a recut one."""

SIDE_MM = 0.02
"""Half width of the strips in which core and sides of a stroke are read. [mm]"""

BESIDE_MM = 0.05
"""Middle of the strips at its sides, from its edge. [mm]"""


def difference_lines(
    more: LaidSheet, less: LaidSheet, size_mm: tuple[float, float], known: LineMap
) -> LineMap:
    """Return lines of the ink that one sheet has more than another: strokes that hatching hides on the sheet itself.

    Parameters
    ----------
    more, less : LaidSheet
    size_mm : tuple
        Width and height of the plate. [mm]
    known : LineMap
        Lines of the base: what runs along one of them is left out.

    Notes
    -----
    A new stroke takes away a share of the light that is there, so the difference is divided by the light of the sheet
    that has less; where a line is dark already, the ground beside it says whether the stroke runs on. So a stroke that
    runs at a small angle through hatching is one ridge, not one in each gap. Strokes that print broader on one of the
    sheets answer too, along known lines.
    """
    box = plate_box(*size_mm, LINE_PITCH_MM)
    extra = np.empty((box.rows, box.columns), dtype=np.uint8)
    response = tone_response(more, less, size_mm)
    margin = round(4 * FILL_MM / LINE_PITCH_MM)
    for top in range(0, box.rows, BAND_ROWS):
        rows = min(BAND_ROWS, box.rows - top)
        above, below = min(margin, top), min(margin, box.rows - top - rows)
        y0 = box.y0_mm + (top - above) * LINE_PITCH_MM
        band = Box(box.x0_mm, y0, box.columns, rows + above + below, LINE_PITCH_MM)
        alike = foretold(light_of(less, band), band, response)
        share = _share_taken(light_of(more, band), alike, FILL_MM / LINE_PITCH_MM)
        extra[top : top + rows] = encode_ink(1 - share[above : above + rows], 1.0)
    noise = float(np.hypot(more.paper.noise, less.paper.noise))
    found = find_lines(extra, LINE_PITCH_MM, max(LEAST_DIFFERENCE, RIDGE_NOISES * noise))
    found = part_of_lines(found, off_the_edge(found, size_mm))
    changed = changed_sides(found, known, more)
    new = ~is_along(found, known, more, changed=changed)
    new = steady_stretches(new & (found.contrast > LEAST_CONTRAST), found)
    strokes = carried_on(linked(part_of_lines(found, new), GAP_MM), more, less)
    rides = _long_runs(is_along(strokes, known, more, CARRIED_SLOPE, changed), strokes)
    return linked(part_of_lines(strokes, steady_stretches(~rides, strokes)), GAP_MM)


def _long_runs(marked: Mask, lines: LineMap) -> Mask:
    """Return which marked points lie in long runs of them along a line."""
    long = marked.copy()
    at = np.flatnonzero(marked)
    cut = (np.diff(at) > 1) | (np.diff(lines.line[at]) != 0)
    for run in np.split(at, np.flatnonzero(cut) + 1):
        long[run] = len(run) >= RIDE_POINTS
    return long


def _share_taken(more: Picture, less: Picture, blur_px: float) -> Picture:
    """Return which share of the light of one sheet the other takes away, with dark places filled from beside.

    Negative where the other has more light, as a share of that.
    """
    taken = gaussian_filter(less - more, blur_px)
    light = gaussian_filter(np.maximum(np.maximum(less, more), 0), blur_px)
    return np.asarray(taken / (light + np.float32(FILL_LIGHT)), dtype=np.float32)


def stands_out(
    sheet: LaidSheet, less: LaidSheet, lines: LineMap, width_mm: Floats, half_width: int
) -> Floats:
    """Return how much more of the light a sheet takes away on strokes than beside them, against another sheet.

    Parameters
    ----------
    sheet, less : LaidSheet
        The sheet that is read, and the one that lacks the strokes.
    lines : LineMap
        The strokes, n points.
    width_mm : Floats
        (n,) width of each. [mm]
    half_width : int
        Points to each side over which light is summed along the line.

    Returns
    -------
    Floats
        (n,) share of the light of `less` that is taken away in the core, less that at the sides; NaN outside a scan.

    Notes
    -----
    Light is summed before it is divided, so that places that are dark on both sheets count by the little light they
    have.
    """
    parts = np.full((3, 2, lines.size), np.nan)
    for start in range(0, lines.size, CHUNK):
        cut = slice(start, start + CHUNK)
        middle = width_mm[cut] / 2 + BESIDE_MM
        strips = (np.zeros_like(middle), -middle, middle)
        for k, one in enumerate((sheet, less)):
            profiles = line_profiles(
                one.scan.plane, one.paper, one.laying, lines.points_mm[cut], lines.normals[cut],
                float(middle.max(initial=BESIDE_MM)) + 2 * SIDE_MM,
            )  # fmt: skip
            s = profiles.s_mm[None, :]
            values = profiles.values.astype(np.float64)
            for number, at in enumerate(strips):
                inside = np.abs(s - at[:, None]) <= SIDE_MM
                parts[number, k, cut] = (values * inside).sum(axis=1) / np.maximum(inside.sum(axis=1), 1)
    sums = np.array([[sum_along(row, lines.line, half_width) for row in strip] for strip in parts])
    count = sum_along(np.ones(lines.size), lines.line, half_width)
    share = (sums[:, 1] - sums[:, 0]) / (sums.max(axis=1) + FILL_LIGHT * count)
    sides = np.maximum(share[1:], LEAST_SIDE)
    return np.asarray(share[0] - sides.mean(axis=0))


def sum_along(values: Floats, line: Numbers, half_width: int) -> Floats:
    """Return running sums along each line over ``2 half_width + 1`` points, fewer at its ends."""
    total = np.zeros(values.size)
    half_width = min(half_width, values.size - 1)
    for shift in range(-half_width, half_width + 1):
        mine = slice(max(-shift, 0), values.size - max(shift, 0))
        other = slice(max(shift, 0), values.size - max(-shift, 0))
        total[mine] += np.where(line[mine] == line[other], values[other], 0.0)
    return total
