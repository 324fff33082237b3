"""A tipped bath: one side of an evenly textured area bitten deeper than the other, on every pull alike.

The hand that wipes leaves slopes too, but other ones on each pull. What all pulls have in common is the plate's.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy import stats

from proofkit.arrays import Floats, Picture
from proofkit.edition import TONE_PITCH_MM
from proofkit.folder.edition import Region
from proofkit.study.models import TooLittleError

FEWEST_PULLS = 3
"""With two pulls the scatter of slopes in two directions is not known. [-]"""

FEWEST_CELLS = 30
"""Cells of 0.5 mm that a region needs. [-]"""

_DARKEST = 0.005


@dataclass(frozen=True, slots=True, eq=False)
class Tilt:
    """The slope of a region's density that all pulls share."""

    region: str
    pulls: tuple[str, ...]
    slopes: Floats
    """(pulls, 2) slope of each pull to the right and downwards. [D per mm]"""
    across_density: float
    """Change along the steepest line from one end of the region to the other. [D]"""
    u_density: float
    """Standard uncertainty of that change, from the scatter of pulls. [D]"""
    direction_deg: float
    """Direction in which it gets darker, counter-clockwise from x as the print is seen. [deg]"""
    p: float
    """Chance of a common slope at least this large where pulls have none in common (Hotelling's T²)."""
    detectable_density: float
    """Change that would be found in 80 of 100 such studies. [D]"""


def common_tilt(region: Region, pictures: dict[str, Picture]) -> Tilt:
    """Return the slope that a region has in common on all pulls.

    Parameters
    ----------
    region : Region
        An area of even texture.
    pictures : dict of str to Picture
        Pull -> coarse picture of linear reflectance in the plate frame, a value per `TONE_PITCH_MM`.

    Raises
    ------
    TooLittleError
        With fewer than three pulls, or a region that is too small.

    References
    ----------
    .. [1] H. Hotelling, The generalization of Student's ratio, Ann. Math. Stat. 2 (1931) 360-378.
    """
    if len(pictures) < FEWEST_PULLS:
        raise TooLittleError(
            f"a tipped bath is told from wiping by {FEWEST_PULLS} pulls or more, there are {len(pictures)}"
        )
    fitted = {
        pull: slope for pull, picture in pictures.items() if (slope := _slope(region, picture)) is not None
    }
    if len(fitted) < FEWEST_PULLS:
        raise TooLittleError(f"region {region.name} is too small or lies outside the scans")
    slopes = np.array(list(fitted.values()))
    mean = slopes.mean(axis=0)
    scatter = np.atleast_2d(np.cov(slopes, rowvar=False)) / len(slopes)
    steep = float(np.hypot(*mean))
    unit = mean / steep if steep > 0 else np.array([1.0, 0.0])
    reach = _reach(region, unit)
    u = math.sqrt(float(unit @ scatter @ unit)) * reach
    freedom = len(slopes) - 1
    return Tilt(
        region.name,
        tuple(fitted),
        slopes,
        steep * reach,
        u,
        math.degrees(math.atan2(-mean[1], mean[0])) % 360.0,
        _hotelling(mean, scatter, len(slopes)),
        float(stats.t.ppf(0.975, freedom) + stats.t.ppf(0.8, freedom)) * u,
    )


def _slope(region: Region, picture: Picture) -> Floats | None:
    """Return the slope of the density inside a region. [D per mm]"""
    x0, y0, x1, y1 = (int(edge // TONE_PITCH_MM) for edge in region.outline_mm.bounds)
    part = picture[max(y0, 0) : y1 + 1, max(x0, 0) : x1 + 1].astype(np.float64)
    right = (np.arange(part.shape[1]) + max(x0, 0) + 0.5) * TONE_PITCH_MM
    down = (np.arange(part.shape[0]) + max(y0, 0) + 0.5) * TONE_PITCH_MM
    x, y = np.meshgrid(right, down)
    inside = shapely.contains_xy(region.outline_mm, x, y) & np.isfinite(part)
    if inside.sum() < FEWEST_CELLS:
        return None
    density = -np.log10(np.maximum(part[inside], _DARKEST))
    centred = np.column_stack(
        (np.ones(inside.sum()), x[inside] - x[inside].mean(), y[inside] - y[inside].mean())
    )
    return np.asarray(np.linalg.lstsq(centred, density, rcond=None)[0][1:], dtype=np.float64)


def _reach(region: Region, unit: Floats) -> float:
    """Return how far a region reaches along a direction. [mm]"""
    points = np.asarray(region.outline_mm.exterior.coords)[:, :2]
    return float(np.ptp(points @ unit))


def _hotelling(mean: Floats, scatter: Floats, count: int) -> float:
    """Return the chance of a mean of two components at least this far from zero."""
    if np.linalg.matrix_rank(scatter) < 2:
        return math.nan
    t2 = float(mean @ np.linalg.solve(scatter, mean))
    f = (count - 2) / (2 * (count - 1)) * t2
    return float(stats.f.sf(f, 2, count - 2))


def tilts(
    regions: Sequence[Region], names: Sequence[str], pictures: dict[str, Picture]
) -> tuple[tuple[Tilt, ...], tuple[str, ...]]:
    """Return the common slope of each named region, and a sentence for each that cannot be had."""
    by_name = {region.name: region for region in regions}
    found, remarks = [], []
    for name in names:
        if name not in by_name:
            remarks.append(f"Tipped bath: there is no region {name!r}; there are {', '.join(by_name)}.")
            continue
        try:
            found.append(common_tilt(by_name[name], pictures))
        except TooLittleError as error:
            remarks.append(f"Tipped bath: {error}.")
    return tuple(found), tuple(remarks)
