"""A region's own pixels as whole numbers, counted by the kind of ground that they are."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Bits, Floats, Plane, packed
from proofkit.measures.cell_kernels import count_codes
from proofkit.measures.raster import CodedCells, code_box
from proofkit.measures.types import LaidSheet, RegionRecord

Counts = npt.NDArray[np.int64]


class Tally(NamedTuple):
    """How many cells have which R/Rp."""

    counts: Counts
    """(codes,) cells with each code."""
    unit: float
    """R/Rp of one code. [-]"""

    @property
    def size(self) -> int:
        """Number of cells."""
        return int(self.counts.sum())

    def seen(self) -> tuple[Floats, Counts]:
        """Return R/Rp of the codes that any cell has, rising, and how many have each. (n,) each."""
        some = np.flatnonzero(self.counts)
        return np.asarray(some * self.unit, dtype=np.float64), self.counts[some]


@dataclass(frozen=True, slots=True, eq=False)
class RegionCells:
    """A region's cells on one sheet."""

    codes: Plane
    """(rows, columns) R/Rp in steps of `unit`; 0 where nothing lies on the scan."""
    unit: float
    """R/Rp of one code. [-]"""
    inside: Bits
    """(rows, columns) the region's cells that lie on the scan, as `packed`; so are the next two."""
    far: Bits
    """Its ground away from lines."""
    near: Bits
    """Its ground close to them."""
    counts: Counts
    """(kinds, codes) known cells inside, see `count_codes`."""

    @property
    def known(self) -> Tally:
        """All cells of the region."""
        return self._of(0, 1, 2, 3)

    @property
    def far_ground(self) -> Tally:
        """Ground away from lines."""
        return self._of(1, 3)

    @property
    def near_ground(self) -> Tally:
        """Ground close to lines."""
        return self._of(2, 3)

    @property
    def only_far(self) -> Tally:
        """Ground away from lines that does not count as close to any."""
        return self._of(1)

    @property
    def only_near(self) -> Tally:
        """Ground close to lines that does not count as away from them."""
        return self._of(2)

    def _of(self, *kinds: int) -> Tally:
        return Tally(self.counts[list(kinds)].sum(axis=0), self.unit)


def region_cells(sheet: LaidSheet, record: RegionRecord) -> RegionCells:
    """Return the cells of a region on a sheet."""
    return counted(code_box(sheet.scan, sheet.paper, sheet.laying, record.box), record)


def counted(coded: CodedCells, record: RegionRecord) -> RegionCells:
    """Return a region's cells with its kinds of ground, as far as they lie on the scan."""
    bits = record.inside_bits, record.far_bits, record.near_bits
    counts = count_codes(coded.codes, *bits)
    if counts[:, 0].any():
        seen = packed(coded.codes > 0)
        bits = bits[0] & seen, bits[1] & seen, bits[2] & seen
        counts[:, 0] = 0
    return RegionCells(coded.codes, coded.unit, *bits, counts)
