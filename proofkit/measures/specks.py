"""Specks on unworked ground that the standard does not have: how many, where, how large, dark or light."""

from collections.abc import Callable, Iterator
from functools import partial
from typing import NamedTuple

import cv2
import numpy as np

from proofkit.arrays import Bits, Floats, Index, Mask, Picture, unpacked
from proofkit.measures.film_cells import GroundBlocks
from proofkit.measures.ground import blurred_ratio
from proofkit.measures.region_cells import RegionCells
from proofkit.measures.speck_kernels import every_cell, ratios_at, stray_cells
from proofkit.measures.types import RegionRecord
from proofkit.scatter import robust_sd

SPECK_DENSITY = 0.06
"""Least density by which a speck leaves its ground. [D]"""

SPECK_NOISES = 6.0
"""... and this many times the scatter of the ground."""

SPECK_MM2 = 0.006
"""Least area of a speck, a spot of 0.09 mm: about what the standards for print marks call a mark (0.1 mm, from
memory). [mm²]"""

SPECKS_GROUND_MM2 = 0.5
"""Least ground on which specks are looked for. [mm²]"""

LEVEL_MM = 2.0
"""Standard deviation of the average that a speck is held against. [mm]"""

MOST_TOLD = 5_000
"""So many cells of the ground, evenly taken, tell its scatter to 2 % (a median of absolute values)."""

LEVEL_BLOCKS = 2
"""Blocks to a standard deviation of the level; see `local_mean`."""

MOST_SPECKS = 500
"""So many specks of a region are listed, the largest first; all are counted."""


class Speck(NamedTuple):
    """One speck."""

    kind: str
    """`dark` or `light`."""
    x_mm: float
    y_mm: float
    """Its middle in the plate frame."""
    size_mm: float
    """Diameter of a round spot of the same area."""
    density: float
    """Mean density above the ground beside, negative for light ones."""


class Specks(NamedTuple):
    """Specks of a region."""

    row: dict[str, float]
    """Columns of `measurements`."""
    listed: list[Speck]


def find_specks(cells: RegionCells, fine: GroundBlocks, record: RegionRecord) -> Specks:
    """Return the specks on a region's far ground; the standard's own marks are masked there already.

    Parameters
    ----------
    cells : RegionCells
    fine : GroundBlocks
        From `streak_blocks`.
    record : RegionRecord
    """
    pitch = record.box.pitch_mm
    area_mm2 = cells.far_ground.size * pitch**2
    if area_mm2 < SPECKS_GROUND_MM2:
        return Specks({}, [])
    level, side = _level(fine, cells.unit, LEVEL_MM / pitch)
    told = every_cell(cells.far, record.box.columns, max(cells.far_ground.size // MOST_TOLD, 1))
    rise = _density(ratios_at(cells.codes, cells.far, level, side, told))
    limit = max(SPECK_DENSITY, SPECK_NOISES * robust_sd(rise, about=0))
    row: dict[str, float] = {}
    listed: list[Speck] = []
    marks = stray_cells(cells.codes, cells.far, level, side, (10**-limit, 10**limit))
    for kind, marked in zip(("dark", "light"), marks, strict=True):
        found = _marks_of(kind, marked, partial(ratios_at, cells.codes, cells.far, level, side), record)
        row[f"{kind}_specks_per_cm2"] = 100 * len(found) / area_mm2
        # Specks come by chance (Poisson); none seen still leaves about one.
        row[f"u_{kind}_specks_per_cm2"] = 100 * float(np.sqrt(max(len(found), 1))) / area_mm2
        listed += sorted(found, key=lambda speck: -speck.size_mm)[:MOST_SPECKS]
    return Specks(row, listed)


def _level(fine: GroundBlocks, unit: float, sigma_cells: float) -> tuple[Picture, int]:
    """Return the level of the ground in blocks of so many cells; NaN where none is near. (rows, columns) [codes]"""
    many = max(int(sigma_cells / LEVEL_BLOCKS / fine.side), 1)
    total, count = (_joined(part, many) for part in (fine.total / unit, fine.number))
    side = many * fine.side
    area = np.float32(side**2)
    return blurred_ratio(total / area, count / area, sigma_cells / side), side


def _joined(parts: Floats, many: int) -> Picture:
    """Return sums over blocks of `many` x `many`, cut off at the far edges."""
    rows, columns = (np.arange(0, length, many) for length in parts.shape)
    summed = np.add.reduceat(np.add.reduceat(parts, rows, axis=0), columns, axis=1)
    return np.asarray(summed, dtype=np.float32)


def _density(ratio: Floats) -> Floats:
    return np.asarray(-np.log10(np.maximum(ratio, 1e-3)))


def _marks_of(
    kind: str, marked: Bits, ratios: Callable[[Index], Floats], record: RegionRecord
) -> list[Speck]:
    """Return the connected marks that are large enough; `ratios` tells cells by their numbers, row by row."""
    box, found = record.box, []
    for rows, columns, here in _patches(marked, box.columns):
        count, labels, stats, centres = cv2.connectedComponentsWithStats(here.view(np.uint8), connectivity=8)
        size = stats[:, cv2.CC_STAT_AREA]
        r, c = np.nonzero(here)
        rises = _density(ratios((rows.start + r) * box.columns + columns.start + c))
        total = np.bincount(labels[r, c], weights=rises, minlength=count)
        found += [
            Speck(
                kind,
                box.x0_mm + (columns.start + float(centres[k, 0])) * box.pitch_mm,
                box.y0_mm + (rows.start + float(centres[k, 1])) * box.pitch_mm,
                2 * float(np.sqrt(size[k] / np.pi)) * box.pitch_mm,
                float(total[k] / size[k]),
            )
            for k in range(1, count)
            if size[k] * box.pitch_mm**2 >= SPECK_MM2
        ]
    return found


def _patches(marked: Bits, width: int) -> Iterator[tuple[slice, slice, Mask]]:
    """Give parts that hold all marks, parted where no row has any: marks are few and small."""
    rows = np.flatnonzero(marked.any(axis=1))
    for run in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1) if len(rows) else ():
        here = unpacked(marked[run[0] : run[-1] + 1], width)
        columns = np.flatnonzero(here.any(axis=0))
        cut = slice(int(columns[0]), int(columns[-1]) + 1)
        yield slice(int(run[0]), int(run[-1]) + 1), cut, np.ascontiguousarray(here[:, cut])
