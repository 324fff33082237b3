"""Bare paper of a scan: found in the margin beside the plate mark, fitted by a smooth surface of level."""

import numpy as np

from proofkit.arrays import Floats, Mask, Points
from proofkit.quality import Quality
from proofkit.reflectance.blocks import Blocks, margin_blocks, sheet_blocks
from proofkit.reflectance.colour import lab_from_linear_rgb
from proofkit.reflectance.margin import BLOCKS_MIN, MODE_WIDTH, is_lid, paper_blocks
from proofkit.reflectance.profile import rgb_to_xyz
from proofkit.reflectance.sheet import rough_paper
from proofkit.reflectance.surface import (
    Surface,
    cloudiness,
    design,
    fit_surface,
    powers,
    predicted,
    uncertainty,
)
from proofkit.reflectance.types import CLOUD_MM, Paper
from proofkit.scan.types import Scan
from proofkit.units import px_per_mm

U_LEVEL_MAX = 0.005
"""A level less certain than this is flagged: 0.002 D, a tenth of a light plate tone. [-]"""

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
        chosen = paper_blocks(blocks, 0.0, float(np.log(rough_paper(scan))))
    else:
        corners = np.asarray(corners_px, dtype=np.float64)
        blocks = margin_blocks(scan, corners, clearance_px)
        chosen = paper_blocks(blocks, clearance_px)
    if chosen.sum() < BLOCKS_MIN or is_lid(blocks, chosen, clearance_px):
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
    near = np.abs(scan.overview[..., 1] / max(level, 1e-6) - 1) < MODE_WIDTH
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
