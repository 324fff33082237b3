"""Bare paper of a scan: found in the margin beside the plate mark, fitted by a smooth surface of level."""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from proofkit.arrays import FULL_SCALE, Floats, Mask, Points
from proofkit.quality import Quality
from proofkit.reflectance.colour import LUMINANCE_WEIGHTS, lab_from_linear_rgb
from proofkit.reflectance.kernels import block_moments
from proofkit.reflectance.profile import rgb_to_xyz
from proofkit.reflectance.sheet import rough_paper
from proofkit.reflectance.surface import Surface, design, fit_surface, powers, predicted, uncertainty
from proofkit.reflectance.types import Paper
from proofkit.scan.types import Scan

BLOCKS_LONG_SIDE = 700
"""Blocks along the long side of a scan: 0.6 mm on an A3 sheet, so that a margin of 3 mm still holds some."""

BLOCK_MIN_PX = 8
"""Smallest side of a block: 64 pixels bring grain of 1 % down to 0.1 %. [px]"""

BLOCKS_MIN = 40
"""Fewest blocks of paper that make a surface."""

U_LEVEL_MAX = 0.005
"""A level less certain than this is flagged: 0.002 D, a tenth of a light plate tone. [-]"""

LEVEL_STEP = 0.03
"""Blocks farther than this from the first, plane fit are not the same paper. [log level]"""

_NEAR_BLOCKS = 5
"""Distance from the clearance line within which paper is first looked for. [block]"""

_MODE_WIDTH = 0.05
_TINT_STEP = 0.02
"""Blocks whose log(R/G) or log(B/G) differs by more from the seeds are not the same paper. [-]"""

_LID_GRAIN = 0.3
"""Grain of the margin, as a share of the least grain in the plate, below which it is no paper. [-]"""

_MARGIN_GRAIN = 5.0
"""Most grain of the margin against the least in the plate, whose paper was pressed smooth. [-]"""

_FIRST_SHARE = 0.2
"""Share of the blocks next to the mark that are paper, where there is a margin at all. [-]"""

_DARKER_THAN_PLATE = 0.07
"""How much darker than the lightest tenth of the plate paper may seem, for uneven light. [log level]"""

_ALL_ROUND = np.ones((3, 3), dtype=bool)

_U_WITHOUT_MARGIN = 0.1
"""Relative uncertainty of a level that was guessed from the lightest tone of the sheet, which may be film. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class _Blocks:
    """Blocks of the scan outside the plate mark, those that are wanted only."""

    log_level: Floats
    """(rows, columns), NaN where not wanted."""
    relative_sd: Floats
    """(rows, columns) of pixels in a block."""
    rgb: Floats
    """(rows, columns, 3) mean linear RGB."""
    distance_px: Floats
    """(rows, columns) from the plate mark outwards."""
    least_grain: float
    """Relative standard deviation of pixels in the flattest blocks of the plate: paper, or film on paper."""
    uv: Floats
    """(rows, columns, 2) place of the centre from the middle of the plate, `scale_px` = 1."""
    side_px: int


def find_paper(scan: Scan, corners_px: Points, *, clearance_px: float) -> Paper:
    """Return the level of bare paper everywhere in a scan, from the margin beside the plate mark.

    Parameters
    ----------
    scan : Scan
    corners_px : Points
        (4, 2) corners of the plate mark, in order round it. [px]
    clearance_px : float
        Width of the band outside the mark that may hold bevel ink or emboss shade. [px]

    Returns
    -------
    Paper
        With ``Quality.LITTLE_MARGIN`` when the level inside the plate is less certain than `U_LEVEL_MAX`; without any
        margin the lightest tone of the sheet stands in, constant.

    Notes
    -----
    1. Means of linear light over blocks outside mark and clearance. 2. Seeds: even blocks next to the mark, of the
    most frequent tone there; beyond a narrow margin they may lie on the bed, and then differ. 3. From the seeds on, all
    connected even blocks that fit a surface through the blocks found so far, and have their tint: pencil, stamps,
    deckle edges and specks make blocks uneven, the bed differs in level or tint or is cut off by the sheet's edge. 4. A
    surface of second order of log level, see `fit_surface`.
    """
    corners = np.asarray(corners_px, dtype=np.float64)
    centre = corners.mean(axis=0)
    scale = float(np.linalg.norm(corners - centre, axis=1).mean())
    blocks = _blocks(scan, corners, clearance_px, centre, scale)
    chosen = _paper_blocks(blocks, clearance_px)
    if chosen.sum() < BLOCKS_MIN or _is_lid(blocks, chosen, clearance_px):
        return _without_margin(scan, centre, scale)
    surface = fit_surface(blocks.uv[chosen], blocks.log_level[chosen])
    coefficients, u_level = _inside_the_plate(surface, _grid(corners, centre, scale))
    return Paper(
        coefficients=coefficients,
        x0_px=float(centre[0]),
        y0_px=float(centre[1]),
        scale_px=scale,
        luminance=float(np.exp(np.median(blocks.log_level[chosen]))),
        lab=_lab(scan, blocks.rgb[chosen]),
        noise=float(np.median(blocks.relative_sd[chosen])),
        u_level=u_level,
        margin_fraction=float(chosen.sum() * blocks.side_px**2 / scan.plane.size),
        quality=Quality.LITTLE_MARGIN if u_level > U_LEVEL_MAX else Quality.NONE,
    )


def paper_level(paper: Paper, x_px: Floats, y_px: Floats) -> Floats:
    """Return the level of bare paper at pixels, the scanner's white = 1.

    Parameters
    ----------
    paper : Paper
    x_px, y_px : Floats
        Places, of any equal shape. [px]

    Returns
    -------
    Floats
        Level; times 65535 in the units of a `Plane`. `kernels.level_at` is the same for one pixel.
    """
    u = (np.asarray(x_px, dtype=np.float64) - paper.x0_px) / paper.scale_px
    v = (np.asarray(y_px, dtype=np.float64) - paper.y0_px) / paper.scale_px
    return np.exp(np.polynomial.polynomial.polyval2d(u, v, paper.coefficients))


def _blocks(scan: Scan, corners: Points, clearance_px: float, centre: Points, scale: float) -> _Blocks:
    """Return the blocks that lie wholly in the scan and outside mark and clearance."""
    step = scan.overview_step
    height, width = scan.plane.shape
    factor = max(-(-BLOCK_MIN_PX // step), round(max(height, width) / BLOCKS_LONG_SIDE / step), 1)
    side = factor * step
    rows, columns = height // side, width // side
    x = (np.arange(columns) + 0.5) * side - 0.5
    y = (np.arange(rows) + 0.5) * side - 0.5
    places = np.stack(np.broadcast_arrays(x[None, :], y[:, None]), axis=-1)
    distance = _distance_outside(corners, places)
    wanted = distance > clearance_px + 0.71 * side
    mean, deviation = block_moments(scan.plane, wanted, side)
    with np.errstate(divide="ignore", invalid="ignore"):
        log_level = np.log(mean / FULL_SCALE)
        relative = deviation / mean
    log_level[~np.isfinite(log_level)] = np.nan
    overview = scan.overview[: rows * factor, : columns * factor].reshape(rows, factor, columns, factor, 3)
    rgb = overview.mean(axis=(1, 3), dtype=np.float64)
    least = _least_grain(scan, distance, side)
    return _Blocks(log_level, relative, rgb, distance, least, (places - centre) / scale, side)


def _distance_outside(corners: Points, places: Floats) -> Floats:
    """Return how far places lie outside a convex outline, negative inside. [px]"""
    edges = np.roll(corners, -1, axis=0) - corners
    x, y = corners.T
    turn = np.sign(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    outward = turn * np.column_stack((edges[:, 1], -edges[:, 0])) / np.linalg.norm(edges, axis=1)[:, None]
    return np.asarray(np.max(places @ outward.T - np.sum(corners * outward, axis=1), axis=-1))


def _paper_blocks(blocks: _Blocks, clearance_px: float) -> Mask:
    """Return which blocks are bare paper."""
    level = blocks.log_level
    usable = np.isfinite(level) & (level > _lightest_inside(blocks) - _DARKER_THAN_PLATE)
    near = usable & (blocks.distance_px < clearance_px + (_NEAR_BLOCKS + 1) * blocks.side_px)
    if near.sum() < BLOCKS_MIN:
        near = usable & (blocks.distance_px < clearance_px + 4 * _NEAR_BLOCKS * blocks.side_px)
    if near.sum() < BLOCKS_MIN:
        return np.zeros_like(usable)
    seeds = near & (np.abs(level - _densest(level[near])) < _MODE_WIDTH / 2)
    most = min(2 * float(np.median(blocks.relative_sd[seeds])), _MARGIN_GRAIN * blocks.least_grain)
    flat = usable & (blocks.relative_sd < most + 2e-4)
    tint = np.log(np.maximum(blocks.rgb[..., [0, 2]], 1e-6) / np.maximum(blocks.rgb[..., 1:2], 1e-6))
    scatter = 1.4826 * np.median(np.abs(tint[seeds] - np.median(tint[seeds], axis=0)), axis=0)
    same_tint = (np.abs(tint - np.median(tint[seeds], axis=0)) < _TINT_STEP + 4 * scatter).all(axis=-1)
    chosen = seeds & flat & same_tint
    tolerance = LEVEL_STEP
    for round_number in range(4):
        if chosen.sum() < BLOCKS_MIN:
            return np.zeros_like(usable)
        surface = fit_surface(blocks.uv[chosen], level[chosen], order=2 if round_number else 1)
        off = np.abs(level - predicted(surface, blocks.uv.reshape(-1, 2)).reshape(level.shape))
        fits = flat & same_tint & (off < max(tolerance, 4 * surface.sigma))
        chosen = _reached(fits, np.isfinite(level) & ~fits, near & seeds & fits)
        tolerance = max(tolerance / 2, 0.006)
    return np.asarray(chosen)


def _lightest_inside(blocks: _Blocks) -> float:
    """Return log level that a tenth of the plate exceeds; paper cannot be darker than its own print."""
    inside = blocks.distance_px < 0
    if not inside.any():
        return -np.inf
    luminance = blocks.rgb[inside] @ np.asarray(LUMINANCE_WEIGHTS)
    return float(np.log(max(np.percentile(luminance, 90), 1e-6)))


def _is_lid(blocks: _Blocks, chosen: Mask, clearance_px: float) -> bool:
    """Return whether what was chosen is a white bed beyond a margin too narrow to be seen.

    It is when the blocks next to the mark are something else, and it has so little grain that it cannot be the paper
    that shows between the lines of the plate.
    """
    first = np.isfinite(blocks.log_level) & (blocks.distance_px < clearance_px + 1.5 * blocks.side_px)
    grain = float(np.median(blocks.relative_sd[chosen]))
    return grain < _LID_GRAIN * blocks.least_grain and bool(chosen[first].mean() < _FIRST_SHARE)


def _least_grain(scan: Scan, distance_px: Floats, side: int) -> float:
    """Return the grain of the flattest blocks of the plate; every second block each way is looked at."""
    inside = distance_px < -side
    inside[1::2] = False
    inside[:, 1::2] = False
    mean, deviation = block_moments(scan.plane, inside, side)
    lit = inside & (mean > 0)
    return float(np.percentile(deviation[lit] / mean[lit], 5)) if lit.any() else np.inf


def _densest(values: Floats) -> float:
    """Return the middle of the window of `_MODE_WIDTH` that holds most values."""
    ordered = np.sort(values)
    ends = np.searchsorted(ordered, ordered + _MODE_WIDTH, side="right")
    best = int(np.argmax(ends - np.arange(ordered.size)))
    return float(np.median(ordered[best : ends[best]]))


def _reached(mask: Mask, bad: Mask, seeds: Mask) -> Mask:
    """Return the pieces of a mask that hold seeds, without the blocks that border on larger bad areas."""
    areas = ndimage.binary_opening(bad, structure=np.ones((2, 2), dtype=bool))
    inner = mask & ~ndimage.binary_dilation(areas, structure=_ALL_ROUND)
    for candidate in (inner, mask):
        labels, count = ndimage.label(candidate, structure=_ALL_ROUND)
        held = np.zeros(count + 1, dtype=bool)
        held[labels[seeds]] = True
        held[0] = False
        reached = np.asarray(held[labels])
        if reached.sum() >= BLOCKS_MIN:
            break
    return reached


def _inside_the_plate(surface: Surface, grid: Points) -> tuple[Floats, float]:
    """Return the second-order coefficients of `Paper` that follow a surface best over the plate, and `u_level`."""
    levels = predicted(surface, grid)
    terms = design(grid, 2)
    fitted = np.linalg.lstsq(terms, levels, rcond=None)[0]
    square = np.zeros((3, 3))
    for value, place in zip(fitted, powers(2), strict=True):
        square[place] = value
    variance = np.mean(uncertainty(surface, grid) ** 2) + np.mean((terms @ fitted - levels) ** 2)
    return square, float(np.sqrt(variance))


def _grid(corners: Points, centre: Points, scale: float) -> Points:
    """Return 21 x 21 places inside the plate, normalised."""
    u, v = (part.ravel()[:, None] for part in np.meshgrid(np.linspace(0, 1, 21), np.linspace(0, 1, 21)))
    one, two, three, four = corners
    return np.asarray(
        ((1 - u) * ((1 - v) * one + v * four) + u * ((1 - v) * two + v * three) - centre) / scale
    )


def _lab(scan: Scan, rgb: Floats) -> tuple[float, float, float]:
    """Return the colour of the margin."""
    lightness, a, b = lab_from_linear_rgb(rgb.mean(axis=0), rgb_to_xyz(scan)).tolist()
    return lightness, a, b


def _without_margin(scan: Scan, centre: Points, scale: float) -> Paper:
    """Return a constant level for a scan without usable margin."""
    level = rough_paper(scan)
    coefficients = np.zeros((3, 3))
    coefficients[0, 0] = np.log(level)
    near = np.abs(scan.overview[..., 1] / max(level, 1e-6) - 1) < _MODE_WIDTH
    rgb = scan.overview[near] if near.any() else np.full((1, 3), level)
    return Paper(
        coefficients=coefficients,
        x0_px=float(centre[0]),
        y0_px=float(centre[1]),
        scale_px=scale,
        luminance=level,
        lab=_lab(scan, np.asarray(rgb, dtype=np.float64)),
        noise=float("nan"),
        u_level=_U_WITHOUT_MARGIN,
        margin_fraction=0.0,
        quality=Quality.LITTLE_MARGIN,
    )
