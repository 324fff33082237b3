"""A tipped bath: one side of an evenly textured area bitten deeper than the other, on every pull alike.

The hand that wipes leaves slopes too, but other ones on each pull. What all pulls have in common is the plate's; and of
that, the grain itself lies unevenly by chance, which the scatter of its patches about the slope tells.
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
    """Standard uncertainty of that change, from the scatter of pulls and the chance of the grain. [D]"""
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
    of_pulls = np.atleast_2d(np.cov(slopes, rowvar=False)) / len(slopes)
    of_grain, patches = _chance_of_grain(region, [pictures[pull] for pull in fitted])
    scatter = of_pulls + of_grain
    freedom = _freedom(of_pulls, len(slopes) - 1, of_grain, patches)
    steep = float(np.hypot(*mean))
    unit = mean / steep if steep > 0 else np.array([1.0, 0.0])
    reach = _reach(region, unit)
    u = math.sqrt(float(unit @ scatter @ unit)) * reach
    return Tilt(
        region.name,
        tuple(fitted),
        slopes,
        steep * reach,
        u,
        math.degrees(math.atan2(-mean[1], mean[0])) % 360.0,
        _hotelling(mean, scatter, freedom),
        float(stats.t.ppf(0.975, freedom) + stats.t.ppf(0.8, freedom)) * u,
    )


def _inside(region: Region, picture: Picture) -> tuple[Floats, Floats, Floats]:
    """Return x, y [mm] and density [D] of the cells of a region that the scan holds."""
    x0, y0, x1, y1 = (max(int(edge // TONE_PITCH_MM), 0) for edge in region.outline_mm.bounds)
    part = picture[y0 : y1 + 1, x0 : x1 + 1].astype(np.float64)
    right = (np.arange(part.shape[1]) + x0 + 0.5) * TONE_PITCH_MM
    down = (np.arange(part.shape[0]) + y0 + 0.5) * TONE_PITCH_MM
    x, y = np.meshgrid(right, down)
    inside = shapely.contains_xy(region.outline_mm, x, y) & np.isfinite(part)
    return x[inside], y[inside], np.asarray(-np.log10(np.maximum(part[inside], _DARKEST)))


def _plane(x: Floats, y: Floats, density: Floats) -> tuple[Floats, Floats]:
    """Return intercept and slopes of a plane, and its design."""
    design = np.column_stack((np.ones_like(x), x - x.mean(), y - y.mean()))
    return np.asarray(np.linalg.lstsq(design, density, rcond=None)[0], dtype=np.float64), design


def _slope(region: Region, picture: Picture) -> Floats | None:
    """Return the slope of the density inside a region. [D per mm]"""
    x, y, density = _inside(region, picture)
    return None if x.size < FEWEST_CELLS else _plane(x, y, density)[0][1:]


BLOCK_MM = 2.0
"""Side of the patches whose scatter tells the chance of the grain: wider than what grains of one thread share. [mm]"""


def _chance_of_grain(region: Region, pictures: Sequence[Picture]) -> tuple[Floats, int]:
    """Return the (2, 2) covariance of the slope from where grains happen to lie, and its degrees of freedom."""
    parts = [_inside(region, picture) for picture in pictures]
    x, y = (np.concatenate([part[k] for part in parts]) for k in (0, 1))
    density = np.concatenate([part[2] - part[2].mean() for part in parts])
    columns = np.floor(x / BLOCK_MM).astype(np.intp)
    rows = np.floor(y / BLOCK_MM).astype(np.intp)
    _, block = np.unique(rows * (int(columns.max()) + 1) + columns, return_inverse=True)
    count = np.bincount(block)
    means = [np.bincount(block, weights=values) / count for values in (x, y, density)]
    found, design = _plane(*means)
    freedom = len(count) - 3
    if freedom <= 0:
        return np.zeros((2, 2)), 1
    left = means[2] - design @ found
    variance = float((left**2).sum()) / freedom
    return np.asarray(variance * np.linalg.inv(design.T @ design)[1:, 1:]), freedom


def _freedom(first: Floats, first_freedom: int, second: Floats, second_freedom: int) -> float:
    """Return the degrees of freedom of a sum of two covariances, by their traces (Welch and Satterthwaite)."""
    one, two = float(np.trace(first)), float(np.trace(second))
    parts = one**2 / first_freedom + two**2 / second_freedom
    return (one + two) ** 2 / parts if parts > 0 else float(first_freedom)


def _reach(region: Region, unit: Floats) -> float:
    """Return how far a region reaches along a direction. [mm]"""
    points = np.asarray(region.outline_mm.exterior.coords)[:, :2]
    return float(np.ptp(points @ unit))


def _hotelling(mean: Floats, scatter: Floats, freedom: float) -> float:
    """Return the chance of a mean of two components at least this far from zero."""
    if np.linalg.matrix_rank(scatter) < 2 or freedom <= 1:
        return math.nan
    t2 = float(mean @ np.linalg.solve(scatter, mean))
    f = (freedom - 1) / (2 * freedom) * t2
    return float(stats.f.sf(f, 2, freedom - 1))


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
