"""The model of a line and its neighbours, and how far its parameters may stray when it is fitted."""

import numpy as np

from proofkit.arrays import Floats, Index
from proofkit.laying.standard_lines import StandardLines
from proofkit.measures.fit_kernels import LEANS, PARAMETERS, fit_crossings
from proofkit.measures.fit_places import FitPlaces, part_of, pixel_mm
from proofkit.measures.line_depths import DEPTH_SPREAD
from proofkit.measures.types import LaidSheet
from proofkit.threads import each_in_order

GROUND, CENTRE, WIDTH, DEPTH, BLUR, LEFT, RIGHT, LEFT_SHARE, RIGHT_SHARE = range(PARAMETERS)
HELD, GROUND_BY_DEPTH, WIDTH_BY_DEPTH = range(PARAMETERS + 2, PARAMETERS + 2 + LEANS)

ROUNDS = 12
"""Most steps of a fit; three are usual."""

PLACE_SPREAD_MM = 0.004
"""How far a neighbour's place on a sheet strays from where the standard seems to have it: in gaps of 3 blur sigmas the
standard's own reading is off by 2 to 3 µm (hatching laid by hand, drawn). [mm]"""

SHARE_SPREAD = 0.12
"""How far its width does, as a share of the line's own: hands and ragged edges move it by 5 to 10 %, and the standard's
reading is off by 10 % in such gaps."""

LOOSE_PX = 2.4
"""Neighbours stray on scans of up to this many blur sigmas a pixel; coarser ones have too few pixels between them."""

LOOSE = (PLACE_SPREAD_MM, PLACE_SPREAD_MM, SHARE_SPREAD, SHARE_SPREAD)
FIXED = (0.0, 0.0, 0.0, 0.0)
"""How far places and widths of the neighbours stray from their start."""

AT_ONCE = 2000
"""Crossings that are fitted together."""

HELD_DEPTH = (np.inf, np.inf, np.inf, DEPTH_SPREAD, 0.0)
FREE_BLUR = (np.inf, np.inf, np.inf, np.inf, np.inf)
"""How far ground, centre, width, depth and blur stray from their start: 0 not at all, infinite as they like."""

USUAL_NOISE = 0.01
"""Noise of a pixel where the margin does not tell it. [-]"""


def start_of(lines: StandardLines, index: Index, places: FitPlaces, blur_mm: float, depth: float) -> Floats:
    """Return the starting values of the fits, (n, PARAMETERS)."""
    start = np.empty((len(index), PARAMETERS))
    start[:, GROUND] = 0.9
    start[:, CENTRE] = 0.0
    start[:, WIDTH] = lines.spans.width_mm[index]
    start[:, DEPTH] = depth
    start[:, BLUR] = blur_mm
    start[:, LEFT:] = places.neighbours
    return start


def beside_on(sheet: LaidSheet, blur_mm: float) -> tuple[float, ...]:
    """Return how far neighbours stray on a scan, see `LOOSE_PX`."""
    return LOOSE if LOOSE_PX * blur_mm > pixel_mm(sheet) else FIXED


def fit_at(sheet: LaidSheet, places: FitPlaces, start: Floats, strays: tuple[float, ...]) -> Floats:
    """Return the fits of some crossings, one row each; see `fit_crossings`.

    `strays` says how far each parameter may stray from its start, see `HELD_DEPTH` and `FIXED`.
    """
    spread = np.array(strays)
    noise = sheet.paper.noise if np.isfinite(sheet.paper.noise) else USUAL_NOISE
    # Fourth cumulant of a square pixel, -px^4 / 120 along its sides, averaged over all directions (3/4).
    excess = -0.75 * pixel_mm(sheet) ** 4 / 120 / float(start[0, BLUR]) ** 4 if len(start) else 0.0
    free = (spread > 0).astype(np.float64)
    held = np.where(spread > 0, noise / np.where(spread > 0, spread, 1.0), 0.0)

    def fitted(first: int) -> Floats:
        some = slice(first, first + AT_ONCE)
        of = part_of(places, some)
        return fit_crossings(
            sheet.scan.plane, of.centres, of.across, of.along, of.level, of.window, start[some], free, held,
            of.half_along, ROUNDS, excess,
        )  # fmt: skip

    return np.concatenate(each_in_order(fitted, range(0, max(len(start), 1), AT_ONCE)))
