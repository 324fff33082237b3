"""Two sheets at one place: points, cuts and differences, all in density above bare paper."""

from dataclasses import dataclass

import cv2
import numpy as np

from proofkit.arrays import FULL_SCALE, Floats, Picture, Points
from proofkit.laying.types import to_sheet_px
from proofkit.looking.sights import Sight
from proofkit.looking.view import look
from proofkit.pyramid.file import read_part
from proofkit.reflectance import paper_level
from proofkit.reflectance.colour import lightness
from proofkit.units import density

DARKEST = 0.003
"""Reflectance below which density is not told apart: 2.5 D, darker than hand-printed ink (common practice). [-]"""

MOST_CUT_PX = 20_000
"""Samples along a cut at most."""

PIECE_PX = 1000
"""Samples of a cut that are read at once: a slanting cut's box stays under 2 MB."""


@dataclass(frozen=True, slots=True)
class PointReading:
    """What the loupe reads at one place."""

    density: float
    """Above bare paper, or above the scanner's white where the paper is not known; NaN outside the scan. [D]"""
    lightness: float
    """CIE L* with the same white. [L*]"""


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """Densities along a straight cut across a sheet."""

    along_mm: Floats
    """(n,) distance from the start. [mm]"""
    density: Floats
    """(n,) above bare paper; NaN outside the scan. [D]"""


def read_point(sight: Sight, x_mm: float, y_mm: float, side_mm: float) -> PointReading:
    """Return density and lightness of the mean reflectance of a small square.

    Parameters
    ----------
    sight : Sight
    x_mm, y_mm : float
        Its centre. [mm]
    side_mm : float
        Its side; at least one pixel of the scan. [mm]

    Raises
    ------
    ScanError
        If the pyramid is gone.
    """
    half = max(side_mm, 1 / sight.scan_px_per_mm) / 2
    square = look(sight, (x_mm - half, y_mm - half, x_mm + half, y_mm + half), 2 / half)
    seen = square[np.isfinite(square)]
    if not seen.size:
        return PointReading(float("nan"), float("nan"))
    mean = float(seen.mean())
    return PointReading(float(density(max(mean, DARKEST))), float(lightness(mean)))


def cut_across(sight: Sight, start_mm: tuple[float, float], end_mm: tuple[float, float]) -> Cut:
    """Return the densities along a straight cut, one sample per pixel of the scan, cubic between pixels.

    Raises
    ------
    ScanError
        If the pyramid is gone.
    """
    start, end = np.asarray(start_mm, dtype=np.float64), np.asarray(end_mm, dtype=np.float64)
    length = float(np.linalg.norm(end - start))
    samples = int(np.clip(np.ceil(length * sight.scan_px_per_mm), 2, MOST_CUT_PX))
    share = np.linspace(0.0, 1.0, samples)
    px = to_sheet_px(sight.laying, start + share[:, None] * (end - start))
    return Cut(share * length, density(np.maximum(_reflectance_at(sight, px), DARKEST)))


def _reflectance_at(sight: Sight, px: Points) -> Floats:
    """Return reflectance at points of the scan, piece by piece; NaN outside it."""
    pieces = [_piece(sight, px[k : k + PIECE_PX]) for k in range(0, len(px), PIECE_PX)]
    return np.concatenate(pieces)


def _piece(sight: Sight, px: Points) -> Floats:
    low, high = px.min(axis=0) - 3, px.max(axis=0) + 4
    part = read_part(sight.pyramid, (low[0], low[1], high[0], high[1]), 0)
    if part is None:
        return np.full(len(px), np.nan)
    inside = (px >= -0.5).all(axis=1) & (px <= (sight.pyramid.width - 0.5, sight.pyramid.height - 0.5)).all(
        axis=1
    )
    maps = ((px - (part.left_px, part.top_px)) / part.step).astype(np.float32)
    codes = cv2.remap(
        part.plane, maps[:, :1], maps[:, 1:], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    ).ravel()
    white = 1.0 if sight.paper is None else paper_level(sight.paper, px[:, 0], px[:, 1])
    return np.where(inside, codes / (FULL_SCALE * white), np.nan)


def density_difference(sheet: Picture, standard: Picture) -> Picture:
    """Return how much darker a sheet is than the standard, pixel by pixel. [D]

    Parameters
    ----------
    sheet, standard : Picture
        (h, w) linear reflectance of the same part.

    Returns
    -------
    Picture
        (h, w), positive where the sheet is darker; NaN where either has nothing.

    Examples
    --------
    >>> density_difference(np.float32([[0.1]]), np.float32([[1.0]])).round(3).tolist()
    [[1.0]]
    """
    with np.errstate(invalid="ignore"):
        ratio = np.maximum(standard, np.float32(DARKEST)) / np.maximum(sheet, np.float32(DARKEST))
        return np.asarray(np.log10(ratio), dtype=np.float32)
