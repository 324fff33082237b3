"""Which blocks of a scan are bare paper: those beside the plate mark of one tone, grain and tint, and no lid."""

import cv2
import numpy as np

from proofkit.arrays import Floats, Mask
from proofkit.reflectance.blocks import Blocks
from proofkit.reflectance.colour import LUMINANCE_WEIGHTS
from proofkit.reflectance.surface import rough_surface, some_of, square_of
from proofkit.reflectance.surface_kernels import near_surface
from proofkit.scatter import OF_MEDIAN

BLOCKS_MIN = 40
"""Fewest blocks of paper that make a surface."""

LEVEL_STEP = 0.03
"""Blocks farther than this from the first, plane fit are not the same paper. [log level]"""

_NEAR_BLOCKS = 5
"""Distance from the clearance line within which paper is first looked for. [block]"""

MODE_WIDTH = 0.05
_TINT_STEP = 0.02
"""Blocks whose log(R/G) or log(B/G) differs by more from the seeds are not the same paper. [-]"""

_LID_GRAIN = 0.3
"""Grain of the margin, as a share of the least grain in the plate, below which it is no paper. [-]"""

_MARGIN_GRAIN = 5.0
"""Most grain of the margin against the least in the plate, whose paper was pressed smooth. [-]"""

_SMOOTHER = 0.6
"""Blocks with less of the grain beside the mark than this are the scanner's lid, whose tone may be the paper's to 2 %:
two held-out lids had 0.45 of it, by the scanner's noise alone; nine blocks of paper together keep over 0.65. [-]"""

_GRAIN_ALLOWED = 0.02
"""Grain of single pixels that any paper may have. [-]"""

_FIRST_SHARE = 0.2
"""Share of the blocks next to the mark that are paper, where there is a margin at all. [-]"""

_DARKER_THAN_PLATE = 0.07
"""How much darker than the lightest tenth of the plate paper may seem, for uneven light. [log level]"""


def paper_blocks(blocks: Blocks, clearance_px: float, tone: float | None = None) -> Mask:
    """Return which blocks are bare paper; `tone` is about its log level when that is known."""
    level = blocks.log_level
    usable = np.isfinite(level) & (level > _lightest_inside(blocks) - _DARKER_THAN_PLATE)
    near = usable & (blocks.distance_px < clearance_px + (_NEAR_BLOCKS + 1) * blocks.side_px)
    if near.sum() < BLOCKS_MIN:
        near = usable & (blocks.distance_px < clearance_px + 4 * _NEAR_BLOCKS * blocks.side_px)
    if near.sum() < BLOCKS_MIN:
        return np.zeros_like(usable)
    seeds = near & (np.abs(level - (_densest(level[near]) if tone is None else tone)) < MODE_WIDTH / 2)
    if seeds.sum() < BLOCKS_MIN:
        return np.zeros_like(usable)
    grain = float(np.median(blocks.relative_sd[seeds]))
    most = min(2 * grain, max(_MARGIN_GRAIN * blocks.least_grain, _GRAIN_ALLOWED))
    flat = usable & (blocks.relative_sd < most + 2e-4)
    flat &= _around(blocks.relative_sd, grain) > _SMOOTHER * grain
    even = flat.copy()
    even[flat] = _same_tint(blocks.rgb[flat], blocks.rgb[seeds])
    chosen = seeds & even
    tolerance = LEVEL_STEP
    for round_number in range(4):
        if chosen.sum() < BLOCKS_MIN:
            return np.zeros_like(usable)
        some = some_of(np.flatnonzero(chosen))
        places = blocks.uv.reshape(-1, 2)[some]
        surface = rough_surface(places, level.flat[some], order=2 if round_number else 1)
        within = max(tolerance, 4 * surface.sigma)
        fits, bad = near_surface(level, even, square_of(surface), blocks.uv, within)
        chosen = _reached(fits, bad, near & seeds & fits)
        tolerance = max(tolerance / 2, 0.006)
    return np.asarray(chosen)


def _same_tint(rgb: Floats, seeds: Floats) -> Mask:
    """Return which of the colours (n, 3) have the tint of the seeds (m, 3), as far as those scatter."""

    def tint(colours: Floats) -> Floats:
        return np.asarray(np.log(np.maximum(colours[:, [0, 2]], 1e-6) / np.maximum(colours[:, 1:2], 1e-6)))

    of_seeds = tint(seeds)
    middle = np.median(of_seeds, axis=0)
    scatter = OF_MEDIAN * np.median(np.abs(of_seeds - middle), axis=0)
    return np.asarray((np.abs(tint(rgb) - middle) < _TINT_STEP + 4 * scatter).all(axis=-1))


def _around(deviation: Floats, unknown: float) -> Floats:
    """Return the mean of 3 x 3 blocks round each, `unknown` where a block was not looked at."""
    known = np.where(np.isfinite(deviation), deviation, unknown)
    return np.asarray(cv2.blur(known, (3, 3), borderType=cv2.BORDER_REFLECT))


def _lightest_inside(blocks: Blocks) -> float:
    """Return log level that a tenth of the plate exceeds; paper cannot be darker than its own print."""
    inside = some_of(np.flatnonzero(blocks.distance_px < 0))
    if not len(inside):
        return -np.inf
    luminance = blocks.rgb.reshape(-1, 3)[inside] @ np.asarray(LUMINANCE_WEIGHTS)
    return float(np.log(max(np.percentile(luminance, 90), 1e-6)))


def is_lid(blocks: Blocks, chosen: Mask, clearance_px: float) -> bool:
    """Return whether what was chosen is a white bed beyond a margin too narrow to be seen.

    It is when the blocks next to the mark are something else, and it has so little grain that it cannot be the paper
    that shows between the lines of the plate.
    """
    first = np.isfinite(blocks.log_level) & (blocks.distance_px < clearance_px + 1.5 * blocks.side_px)
    grain = float(np.median(blocks.relative_sd[chosen]))
    return grain < _LID_GRAIN * blocks.least_grain and bool(chosen[first].mean() < _FIRST_SHARE)


def _densest(values: Floats) -> float:
    """Return the middle of the window of `MODE_WIDTH` that holds most values."""
    ordered = np.sort(values)
    ends = np.searchsorted(ordered, ordered + MODE_WIDTH, side="right")
    best = int(np.argmax(ends - np.arange(ordered.size)))
    return float(np.median(ordered[best : ends[best]]))


def _reached(mask: Mask, bad: Mask, seeds: Mask) -> Mask:
    """Return the pieces of a mask that hold seeds, without the blocks that border on larger bad areas."""
    two, four = (np.ones((size, size), np.uint8) for size in (2, 4))
    corners = cv2.erode(bad.view(np.uint8), two, anchor=(0, 0), borderType=cv2.BORDER_CONSTANT, borderValue=0)
    # squares of 2 x 2 from these corners on, and all that borders on them
    areas = cv2.dilate(corners, four, anchor=(2, 2))
    for candidate in (mask & (areas == 0), mask):
        count, labels = cv2.connectedComponents(candidate.view(np.uint8), connectivity=8)
        held = np.zeros(count, dtype=bool)
        held[labels[seeds]] = True
        held[0] = False
        reached = np.asarray(held[labels])
        if reached.sum() >= BLOCKS_MIN:
            break
    return reached
