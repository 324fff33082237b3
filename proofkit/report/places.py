"""The place of a sheet that is worth looking at: where its coarse tone picture differs most from the standard's."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.ndimage import uniform_filter

from proofkit.arrays import Floats, Mask, Picture
from proofkit.edition import TONE_PITCH_MM
from proofkit.folder.edition import Region

CROP_MM = 12.0
"""Side of the square shown: about what a loupe of eight times shows at once (common practice). [mm]"""

WINDOW_MM = 6.0
"""Side of the smaller square whose difference is weighed: half of what is shown, so that small faults count. [mm]"""


@dataclass(frozen=True, slots=True)
class Place:
    """A square on the plate, and how much darker it is than on the standard."""

    box_mm: tuple[float, float, float, float]
    """x0, y0, x1, y1 in plate mm."""
    darker_density: float
    """Density of the square's mean reflectance above the standard's; negative is lighter. [D]"""
    sheet_darker_density: float
    """The same, over all that both pictures show. [D]"""


def worst_place(standard: Picture, tone: Picture, regions: Sequence[Region]) -> Place | None:
    """Return the square in which a sheet leaves the standard most.

    Parameters
    ----------
    standard, tone : Picture
        (h, w) coarse linear reflectance in the plate frame, one value per `TONE_PITCH_MM`.
    regions : sequence of Region
        Where to look; everywhere when empty.

    Returns
    -------
    Place or None
        None when the two pictures have nothing in common there.

    Notes
    -----
    The difference of reflectance is freed of its median over the sheet, as a slightly lighter or darker sheet
    would otherwise hide a local fault, and its mean square is taken over `WINDOW_MM` and over `CROP_MM`, so that a
    large fault is met in its middle; it counts by the share of the square shown that lies within the regions, so
    that a place at their very edge gives way to one inside.
    """
    return next(iter(worst_places(standard, tone, regions, 1)), None)


def worst_places(standard: Picture, tone: Picture, regions: Sequence[Region], most: int) -> list[Place]:
    """Return the squares in which a sheet leaves the standard, the worst first; they do not lie over each other.

    Parameters
    ----------
    standard, tone, regions
        As for `worst_place`.
    most : int
        How many squares.

    Returns
    -------
    list of Place
        Fewer than `most` when the pictures hold no more.
    """
    rows, columns = (min(a, b) for a, b in zip(standard.shape, tone.shape, strict=True))
    before = np.asarray(standard[:rows, :columns], dtype=np.float64)
    now = np.asarray(tone[:rows, :columns], dtype=np.float64)
    seen = np.isfinite(before) & np.isfinite(now)
    wanted = seen & _inside(regions, (rows, columns))
    difference = np.where(seen, now - before, 0.0)
    local = np.where(seen, difference - np.median(difference[seen]), 0.0) if seen.any() else difference
    weighed = _window_mean(local**2, seen, WINDOW_MM) + _window_mean(local**2, seen, CROP_MM)
    weighed *= uniform_filter(wanted.astype(np.float64), _cells(CROP_MM), mode="constant")
    places: list[Place] = []
    while wanted.any() and len(places) < most:
        row, column = np.unravel_index(np.argmax(np.where(wanted, weighed, -1.0)), weighed.shape)
        box = _box(float(column + 0.5), float(row + 0.5), (rows, columns))
        x0, y0, x1, y1 = (round(edge / TONE_PITCH_MM) for edge in box)
        part = (slice(y0, y1), slice(x0, x1))
        places.append(Place(box, _darker(before[part], now[part], seen[part]), _darker(before, now, seen)))
        reach = _cells(CROP_MM)
        wanted[max(0, row - reach) : row + reach, max(0, column - reach) : column + reach] = False
    return places


def _inside(regions: Sequence[Region], shape: tuple[int, int]) -> Mask:
    if not regions:
        return np.ones(shape, dtype=np.bool_)
    y, x = (TONE_PITCH_MM * (index + 0.5) for index in np.indices(shape))
    return np.asarray(
        shapely.contains_xy(shapely.union_all([r.outline_mm for r in regions]), x, y), dtype=np.bool_
    )


def _window_mean(values: Floats, seen: Mask, side_mm: float) -> Floats:
    """Return the mean over the square about each cell, of the cells seen."""
    size = _cells(side_mm)
    share = uniform_filter(seen.astype(np.float64), size, mode="constant")
    total = uniform_filter(np.where(seen, values, 0.0), size, mode="constant")
    return np.asarray(np.where(share > 0.25, total / np.maximum(share, 0.25), 0.0))


def _cells(length_mm: float) -> int:
    return max(1, round(length_mm / TONE_PITCH_MM))


def _box(column: float, row: float, shape: tuple[int, int]) -> tuple[float, float, float, float]:
    """Return the square about a cell, moved inwards where it would leave the plate."""
    height_mm, width_mm = (cells * TONE_PITCH_MM for cells in shape)
    side = min(CROP_MM, width_mm, height_mm)
    x0 = float(np.clip(column * TONE_PITCH_MM - side / 2, 0, width_mm - side))
    y0 = float(np.clip(row * TONE_PITCH_MM - side / 2, 0, height_mm - side))
    return (x0, y0, x0 + side, y0 + side)


def _darker(before: Floats, now: Floats, seen: Mask) -> float:
    if not seen.any() or before[seen].mean() <= 0 or now[seen].mean() <= 0:
        return float("nan")
    return float(np.log10(before[seen].mean() / now[seen].mean()))
