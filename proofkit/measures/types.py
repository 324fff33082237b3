"""What measures work on: a laid sheet, and a region as the standard knows it."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Bits, Floats, Mask, Picture, unpacked
from proofkit.folder.edition import Region
from proofkit.laying.rectify import Box
from proofkit.laying.types import Laying
from proofkit.lines.crossings import PlacedValues
from proofkit.reflectance.types import Paper
from proofkit.scan.types import Scan


@dataclass(frozen=True, slots=True, eq=False)
class LaidSheet:
    """A scan with its paper and how it lies on the plate."""

    scan: Scan
    paper: Paper
    laying: Laying
    blur_mm: float
    """Standard deviation of the scan's blur, optics and pixel together. [mm]"""
    crossings: PlacedValues
    """What crossings of the standard's lines say on this sheet; NaN for those that are not read."""


@dataclass(frozen=True, slots=True, eq=False)
class RegionRecord:
    """A region with what the standard says of it."""

    region: Region
    box: Box
    """Cells of about one pixel that cover the region."""
    inside_bits: Bits
    """(rows, columns) cells inside the outline."""
    far_bits: Bits
    """(rows, columns) unworked ground away from lines, bevel and marks of the standard."""
    near_bits: Bits
    """(rows, columns) unworked ground close to lines, where a halo would lie."""
    points: npt.NDArray[np.intp]
    """Points of the standard's lines inside the region."""
    close: Mask
    """(len(points),) those where the standard's scan does not resolve the line work, see `close_work`."""
    fine: Mask
    """(len(points),) finest third of the lines."""
    broad: Mask
    """(len(points),) broadest third."""
    cells: int
    """Number of the cells inside."""
    area_mm2: float
    histogram: npt.NDArray[np.int64]
    """Density histogram of the region on the standard."""
    coarse: Picture
    """Reflectance of the region's coarse cells on the standard; NaN outside."""
    geometry: tuple[tuple[str, float], ...]
    """Length, spacing and directions of its lines, by column: they belong to the plate."""
    gap_contrast: Floats
    """(len(points),) (gap - core) / paper on the standard. [-]"""

    @property
    def mostly_close(self) -> bool:
        """Whether most of what was found here may be no lines of the plate."""
        return bool(2 * np.count_nonzero(self.close) > len(self.close))

    @property
    def inside(self) -> Mask:
        """Unpacked, as are the next two; worth keeping where it is used twice."""
        return unpacked(self.inside_bits, self.box.columns)

    @property
    def far(self) -> Mask:
        """(rows, columns)."""
        return unpacked(self.far_bits, self.box.columns)

    @property
    def near(self) -> Mask:
        """(rows, columns)."""
        return unpacked(self.near_bits, self.box.columns)
