"""Film of a region cell by cell, so that its mean stands for the whole region and not for where ground is plenty."""

from typing import NamedTuple

import numpy as np

from proofkit.arrays import Bits, Floats, Points
from proofkit.laying.rectify import Box
from proofkit.measures.cell_kernels import CODES, block_areas, block_sums
from proofkit.measures.region_cells import RegionCells, Tally
from proofkit.measures.statistics import stray_limits
from proofkit.scatter import robust_sd

CELL_MM = 2.0
"""Cells in which the film is told: the scale of a cloth's or palm's touch. [mm]"""

ENOUGH_MM2 = 0.12
"""Ground in a cell that is enough for its film: with grain of 2 % in spots of 0.02 mm² it leaves 0.004 D. [mm²]"""

AREA_ROWS = 4
"""Every so manieth row of pixels tells which share of a cell lies inside: right to some percent of it."""

STRAY_SIGMAS, LEAST_STRAY_DENSITY = 5.0, 0.002
"""Cells farther from the plane than so many robust standard deviations of all cells, and than so much, are stray.
[s.d.], [D]"""

PLANE_ROUNDS = 3
"""Fits of the plane; a stray cell tilts the first, and its own distance is seen in the second."""

ENOUGH_GAPS = 6
"""Gaps of hatching in a cell that are enough for its film."""


class Gaps(NamedTuple):
    """Ground read in the gaps of hatching."""

    points_mm: Points
    """(n, 2) places. [mm]"""
    reflectance: Floats
    """(n,) R/Rp of the ground. [-]"""
    u_density: float = 0.0
    """Standard uncertainty of all of it together, by the blur of the lines that cross. [D]"""


class FilmCells(NamedTuple):
    """Film of the cells of a region."""

    reflectance: Floats
    """(rows, columns) R/Rp of the ground; NaN where none could be read. [-]"""
    area: Floats
    """(rows, columns) share of each cell that lies inside the region. [-]"""


class GroundBlocks(NamedTuple):
    """Far ground of a region in blocks of `side` x `side` cells."""

    total: Floats
    """(rows, columns) sum of R/Rp over its cells of ground. [-]"""
    number: Floats
    """(rows, columns) their number."""
    side: int

    @property
    def mean(self) -> Floats:
        """(rows, columns) mean of R/Rp of the ground; NaN where there is none. [-]"""
        return _over(self.total, self.number)


def ground_blocks(cells: RegionCells, side: int) -> GroundBlocks:
    """Return the far ground of a region in blocks of `side` x `side` cells."""
    total, _, count = block_sums(cells.codes, cells.far, side, 0, CODES)
    return GroundBlocks(total * cells.unit, count, side)


def _over(total: Floats, count: Floats) -> Floats:
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(count > 0, total / count, np.nan)


def film_cells(cells: RegionCells, gaps: Gaps | None, box: Box) -> FilmCells:
    """Return the film of each cell: from far ground, else from ground near lines, else from gaps of hatching.

    Ground near lines and gaps may carry a halo or an error of their own; what they differ from far ground by, in
    the cells that have both, is taken off.

    Parameters
    ----------
    cells : RegionCells
    gaps : Gaps, optional
        Ground read in the gaps of hatching.
    box : Box
        Of the cells.
    """
    side = max(round(CELL_MM / box.pitch_mm), 1)
    enough = ENOUGH_MM2 / box.pitch_mm**2
    best = _filled(
        _ground_cells(cells, cells.far, cells.far_ground, side, enough),
        _ground_cells(cells, cells.near & ~cells.far, cells.only_near, side, enough),
    )
    if gaps is not None and len(gaps.reflectance):
        best = _filled(best, _gap_cells(gaps, best.shape, box, side))
    return FilmCells(best, block_areas(cells.inside, box.columns, side, AREA_ROWS))


def _ground_cells(cells: RegionCells, ground: Bits, tally: Tally, side: int, enough: float) -> Floats:
    """Return the mean of some ground in each cell without stray places; NaN where there is little ground.

    Whether there is enough is told before strays are left out: it must not change from one scan of a sheet to the next.
    """
    low, high = stray_limits(tally) if tally.size else (0.0, 0.0)
    codes = int(np.ceil(low / cells.unit - 1e-6)), int(np.floor(high / cells.unit + 1e-6))
    total, kept, count = block_sums(cells.codes, ground, side, *codes)
    return np.where(count >= enough, _over(total * cells.unit, kept), np.nan)


def _filled(best: Floats, other: Floats) -> Floats:
    """Return `best` with its gaps filled from `other`, after scaling that to agree where both are known."""
    both = np.isfinite(best) & np.isfinite(other)
    scale = float(np.median(best[both] / other[both])) if both.sum() >= 4 else 1.0
    return np.where(np.isfinite(best), best, other * scale)


def _gap_cells(gaps: Gaps, shape: tuple[int, ...], box: Box, side: int) -> Floats:
    """Return the median of gaps in each cell; NaN where there are few."""
    column = ((gaps.points_mm[:, 0] - box.x0_mm) / box.pitch_mm / side).astype(np.intp)
    row = ((gaps.points_mm[:, 1] - box.y0_mm) / box.pitch_mm / side).astype(np.intp)
    cell = np.clip(row, 0, shape[0] - 1) * shape[1] + np.clip(column, 0, shape[1] - 1)
    order = np.argsort(cell, kind="stable")
    edges = np.searchsorted(cell[order], np.arange(shape[0] * shape[1] + 1))
    values = gaps.reflectance[order]
    result = np.full(shape[0] * shape[1], np.nan)
    for i in np.flatnonzero(np.diff(edges) >= ENOUGH_GAPS):
        result[i] = np.median(values[edges[i] : edges[i + 1]])
    return result.reshape(shape)


def plane_of(cells: FilmCells) -> tuple[Floats, Floats]:
    """Return the plane through the density of known cells, ``a + b x + c y`` with x, y in mm, and the residuals.

    Stray cells have no say in it: one in which a line was taken for ground would else tilt it for all.
    """
    known = np.isfinite(cells.reflectance)
    rows, columns = np.nonzero(known)
    film = -np.log10(cells.reflectance[known])
    weight = np.sqrt(np.maximum(cells.area[known], 0.05))
    design = np.column_stack((np.ones(len(film)), columns * CELL_MM, rows * CELL_MM))
    kept = np.ones(len(film), dtype=np.bool_)
    for _ in range(PLANE_ROUNDS):
        weighed = np.where(kept, weight, 0.0)
        plane = np.linalg.lstsq(design * weighed[:, None], film * weighed, rcond=None)[0]
        rest = film - design @ plane
        kept = np.abs(rest - np.median(rest)) <= max(STRAY_SIGMAS * robust_sd(rest), LEAST_STRAY_DENSITY)
    return plane, rest


def mean_film(cells: FilmCells) -> float:
    """Return the density of the mean reflectance over the whole region; cells not read follow the plane. [D]"""
    known = np.isfinite(cells.reflectance)
    value = cells.reflectance.copy()
    wanted = ~known & (cells.area > 0)
    if wanted.any() and known.sum() >= 6:
        plane, _ = plane_of(cells)
        rows, columns = np.nonzero(wanted)
        fill = 10 ** -(plane[0] + plane[1] * columns * CELL_MM + plane[2] * rows * CELL_MM)
        low, high = value[known].min(), value[known].max()
        value[wanted] = np.clip(fill, low, high)
        known = known | wanted
    return float(-np.log10(np.average(value[known], weights=np.maximum(cells.area[known], 1e-6))))
