"""Specks on unworked ground that the standard does not have: how many, where, how large, dark or light."""

from collections.abc import Iterator
from typing import NamedTuple

import cv2
import numpy as np

from proofkit.arrays import Floats, Mask, Picture
from proofkit.measures.cell_kernels import known_cells, smoothed_ratios
from proofkit.measures.ground import local_mean
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

MOST_TOLD = 200_000
"""So many cells of the ground, evenly taken, tell its scatter to 0.3 %."""

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


def find_specks(picture: Picture, record: RegionRecord) -> Specks:
    """Return the specks on a region's far ground; the standard's own marks are masked there already.

    Parameters
    ----------
    picture : Picture
        (rows, columns) R/Rp of the region's cells. [-]
    record : RegionRecord
    """
    pitch = record.box.pitch_mm
    ground = record.far & np.isfinite(picture)
    area_mm2 = float(ground.sum()) * pitch**2
    if area_mm2 < SPECKS_GROUND_MM2:
        return Specks({}, [])
    ratio = smoothed_ratios(picture, ground, local_mean(picture, ground, 2.0 / pitch))
    told = known_cells(ratio, ground)
    rise = np.abs(_density(told[:: max(len(told) // MOST_TOLD, 1)]))
    limit = max(SPECK_DENSITY, SPECK_NOISES * robust_sd(rise, about=0))
    row: dict[str, float] = {}
    listed: list[Speck] = []
    for kind, marked in (("dark", ratio < 10**-limit), ("light", ratio > 10**limit)):
        found = _marks_of(kind, marked, ratio, record)
        row[f"{kind}_specks_per_cm2"] = 100 * len(found) / area_mm2
        # Specks come by chance (Poisson); none seen still leaves about one.
        row[f"u_{kind}_specks_per_cm2"] = 100 * float(np.sqrt(max(len(found), 1))) / area_mm2
        listed += sorted(found, key=lambda speck: -speck.size_mm)[:MOST_SPECKS]
    return Specks(row, listed)


def _density(ratio: Picture) -> Floats:
    return np.asarray(-np.log10(np.maximum(ratio, 1e-3)), dtype=np.float64)


def _marks_of(kind: str, marked: Mask, ratio: Picture, record: RegionRecord) -> list[Speck]:
    """Return the connected marks that are large enough."""
    box, found = record.box, []
    for rows, columns in _patches(marked):
        here, values = np.ascontiguousarray(marked[rows, columns]), ratio[rows, columns]
        count, labels, stats, centres = cv2.connectedComponentsWithStats(here.view(np.uint8), connectivity=8)
        size = stats[:, cv2.CC_STAT_AREA]
        total = np.bincount(labels[here], weights=_density(values[here]), minlength=count)
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


def _patches(marked: Mask) -> Iterator[tuple[slice, slice]]:
    """Give rows and columns of parts that hold all marks, parted where no row has any: marks are few and small."""
    rows = np.flatnonzero(marked.any(axis=1))
    for run in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1) if len(rows) else ():
        columns = np.flatnonzero(marked[run[0] : run[-1] + 1].any(axis=0))
        yield slice(int(run[0]), int(run[-1]) + 1), slice(int(columns[0]), int(columns[-1]) + 1)
