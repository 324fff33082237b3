"""Bare paper of a scan: found in the margin beside the plate mark, fitted by a smooth surface of level."""

import cv2
import numpy as np
from scipy import ndimage

from proofkit.arrays import Floats, Mask, Points
from proofkit.quality import Quality
from proofkit.reflectance.blocks import Blocks, margin_blocks, sheet_blocks
from proofkit.reflectance.colour import LUMINANCE_WEIGHTS, lab_from_linear_rgb
from proofkit.reflectance.profile import rgb_to_xyz
from proofkit.reflectance.sheet import rough_paper
from proofkit.reflectance.surface import (
    Surface,
    cloudiness,
    design,
    fit_surface,
    powers,
    predicted,
    predicted_on_grid,
    rough_surface,
    uncertainty,
)
from proofkit.reflectance.types import CLOUD_MM, Paper
from proofkit.scan.types import Scan
from proofkit.scatter import OF_MEDIAN
from proofkit.units import px_per_mm

BLOCKS_MIN = 40
"""Fewest blocks of paper that make a surface."""

BLOCKS_FOR_GROWTH = 5000
"""About so many of the blocks found are fitted while paper is still looked for."""

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

_SMOOTHER = 0.6
"""Blocks with less of the grain beside the mark than this are the scanner's lid, whose tone may be the paper's to 2 %:
two held-out lids had 0.45 of it, by the scanner's noise alone; nine blocks of paper together keep over 0.65. [-]"""

_GRAIN_ALLOWED = 0.02
"""Grain of single pixels that any paper may have. [-]"""

_FIRST_SHARE = 0.2
"""Share of the blocks next to the mark that are paper, where there is a margin at all. [-]"""

_DARKER_THAN_PLATE = 0.07
"""How much darker than the lightest tenth of the plate paper may seem, for uneven light. [log level]"""

_ALL_ROUND = np.ones((3, 3), dtype=bool)

_U_WITHOUT_MARGIN = 0.1
"""Relative uncertainty of a level that was guessed from the lightest tone of the sheet, which may be film. [-]"""


def find_paper(
    scan: Scan, corners_px: Points | None, *, clearance_px: float, like: Surface | None = None
) -> Paper:
    """Return the level of bare paper everywhere in a scan, from the margin beside the plate mark.

    Parameters
    ----------
    scan : Scan
    corners_px : Points or None
        (4, 2) corners of the plate mark, in order round it; None when no mark is known: the lightest tone that fills a
        share of the sheet is then paper, wherever it lies. [px]
    clearance_px : float
        Width of the band outside the mark that may hold bevel ink or emboss shade. [px]
    like : Surface, optional
        Light of another scan of the edition, see `find_light`.

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
    blocks, corners, chosen = _margin(scan, corners_px, clearance_px)
    if chosen is None:
        return _without_margin(scan, blocks)
    surface = fit_surface(blocks.uv[chosen], blocks.log_level[chosen], spacing=blocks.spacing, like=like)
    coefficients, u_level = _inside_the_plate(surface, _grid(corners, blocks))
    return Paper(
        coefficients=coefficients,
        x0_px=float(blocks.centre_px[0]),
        y0_px=float(blocks.centre_px[1]),
        scale_px=blocks.scale_px,
        luminance=float(np.exp(np.median(blocks.log_level[chosen]))),
        lab=_lab(scan, blocks.rgb[chosen]),
        noise=float(np.median(blocks.relative_sd[chosen])),
        u_level=u_level,
        margin_fraction=float(chosen.sum() * blocks.side_px**2 / scan.plane.size),
        quality=Quality.LITTLE_MARGIN if u_level > U_LEVEL_MAX else Quality.NONE,
        clouds=_clouds(scan, blocks, chosen, surface),
    )


def find_light(scan: Scan, corners_px: Points, *, clearance_px: float) -> Surface | None:
    """Return the light on a scan as its margin shows it, for other scans of the edition; None without a margin.

    Parameters
    ----------
    scan, corners_px, clearance_px
        As in `find_paper`.
    """
    blocks, corners, chosen = _margin(scan, corners_px, clearance_px)
    if chosen is None:
        return None
    surface = fit_surface(blocks.uv[chosen], blocks.log_level[chosen], spacing=blocks.spacing)
    _, u_level = _inside_the_plate(surface, _grid(corners, blocks))
    return surface if u_level <= U_LEVEL_MAX else None


def _margin(scan: Scan, corners_px: Points | None, clearance_px: float) -> tuple[Blocks, Points, Mask | None]:
    """Return blocks of a scan, corners of the plate or sheet, and which blocks are bare paper; None when too few."""
    if corners_px is None:
        blocks, corners = sheet_blocks(scan)
        chosen = _paper_blocks(blocks, 0.0, float(np.log(rough_paper(scan))))
    else:
        corners = np.asarray(corners_px, dtype=np.float64)
        blocks = margin_blocks(scan, corners, clearance_px)
        chosen = _paper_blocks(blocks, clearance_px)
    if chosen.sum() < BLOCKS_MIN or _is_lid(blocks, chosen, clearance_px):
        return blocks, corners, None
    return blocks, corners, chosen


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


def _paper_blocks(blocks: Blocks, clearance_px: float, tone: float | None = None) -> Mask:
    """Return which blocks are bare paper; `tone` is about its log level when that is known."""
    level = blocks.log_level
    usable = np.isfinite(level) & (level > _lightest_inside(blocks) - _DARKER_THAN_PLATE)
    near = usable & (blocks.distance_px < clearance_px + (_NEAR_BLOCKS + 1) * blocks.side_px)
    if near.sum() < BLOCKS_MIN:
        near = usable & (blocks.distance_px < clearance_px + 4 * _NEAR_BLOCKS * blocks.side_px)
    if near.sum() < BLOCKS_MIN:
        return np.zeros_like(usable)
    seeds = near & (np.abs(level - (_densest(level[near]) if tone is None else tone)) < _MODE_WIDTH / 2)
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
        some = np.flatnonzero(chosen)[:: max(1, int(chosen.sum()) // BLOCKS_FOR_GROWTH)]
        places = blocks.uv.reshape(-1, 2)[some]
        surface = rough_surface(places, level.flat[some], order=2 if round_number else 1)
        off = np.abs(level - predicted_on_grid(surface, blocks.uv[0, :, 0], blocks.uv[:, 0, 1]))
        fits = even & (off < max(tolerance, 4 * surface.sigma))
        chosen = _reached(fits, np.isfinite(level) & ~fits, near & seeds & fits)
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
    inside = blocks.distance_px < 0
    if not inside.any():
        return -np.inf
    luminance = blocks.rgb[inside] @ np.asarray(LUMINANCE_WEIGHTS)
    return float(np.log(max(np.percentile(luminance, 90), 1e-6)))


def _is_lid(blocks: Blocks, chosen: Mask, clearance_px: float) -> bool:
    """Return whether what was chosen is a white bed beyond a margin too narrow to be seen.

    It is when the blocks next to the mark are something else, and it has so little grain that it cannot be the paper
    that shows between the lines of the plate.
    """
    first = np.isfinite(blocks.log_level) & (blocks.distance_px < clearance_px + 1.5 * blocks.side_px)
    grain = float(np.median(blocks.relative_sd[chosen]))
    return grain < _LID_GRAIN * blocks.least_grain and bool(chosen[first].mean() < _FIRST_SHARE)


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


def _clouds(scan: Scan, blocks: Blocks, chosen: Mask, surface: Surface) -> float:
    """Return the spread of the margin between squares of `CLOUD_MM`; 0 where the scan's resolution is not known."""
    side = CLOUD_MM * px_per_mm(float(np.sqrt(scan.file.ppi_x * scan.file.ppi_y))) / blocks.scale_px
    return cloudiness(surface, blocks.uv[chosen], blocks.log_level[chosen], side)


def _grid(corners: Points, blocks: Blocks) -> Points:
    """Return 21 x 21 places inside the plate, normalised."""
    u, v = (part.ravel()[:, None] for part in np.meshgrid(np.linspace(0, 1, 21), np.linspace(0, 1, 21)))
    one, two, three, four = corners
    places = (1 - u) * ((1 - v) * one + v * four) + u * ((1 - v) * two + v * three)
    return np.asarray((places - blocks.centre_px) / blocks.scale_px)


def _lab(scan: Scan, rgb: Floats) -> tuple[float, float, float]:
    """Return the colour of the margin."""
    lightness, a, b = lab_from_linear_rgb(rgb.mean(axis=0), rgb_to_xyz(scan)).tolist()
    return lightness, a, b


def _without_margin(scan: Scan, blocks: Blocks) -> Paper:
    """Return a constant level for a scan without usable margin."""
    level = rough_paper(scan)
    coefficients = np.zeros((3, 3))
    coefficients[0, 0] = np.log(level)
    near = np.abs(scan.overview[..., 1] / max(level, 1e-6) - 1) < _MODE_WIDTH
    rgb = scan.overview[near] if near.any() else np.full((1, 3), level)
    return Paper(
        coefficients=coefficients,
        x0_px=float(blocks.centre_px[0]),
        y0_px=float(blocks.centre_px[1]),
        scale_px=blocks.scale_px,
        luminance=level,
        lab=_lab(scan, np.asarray(rgb, dtype=np.float64)),
        noise=float("nan"),
        u_level=_U_WITHOUT_MARGIN,
        margin_fraction=0.0,
        quality=Quality.LITTLE_MARGIN,
    )
