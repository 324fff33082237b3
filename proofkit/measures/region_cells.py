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

    values: Floats
    """(n,) R/Rp, rising. [-]"""
    counts: Counts
    """(n,) cells with each."""

    @property
    def size(self) -> int:
        """Number of cells."""
        return int(self.counts.sum())

    def seen(self) -> tuple[Floats, Counts]:
        """Return the R/Rp that any cell has, rising, and how many have each. (n,) each."""
        some = np.flatnonzero(self.counts)
        return self.values[some], self.counts[some]


def tally_of(counts: Counts, unit: float) -> Tally:
    """Return the tally of cells from how many have each code; `unit` is the R/Rp of one code. [-]

    >>> tally_of(np.array([0, 4, 0, 1]), 0.25).values.tolist()
    [0.25, 0.75]
    """
    some = np.flatnonzero(counts)
    return Tally(np.asarray(some * unit, dtype=np.float64), counts[some])


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
    values: Floats
    """(n,) R/Rp of the codes that known cells inside have, rising. [-]"""
    counts: Counts
    """(kinds, n) how many have each, see `count_codes`."""

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
        return Tally(self.values, np.asarray(sum(self.counts[kind] for kind in kinds)))


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
    some = np.flatnonzero(counts.any(axis=0))
    return RegionCells(
        coded.codes, coded.unit, *bits, np.asarray(some * coded.unit, np.float64), counts[:, some]
    )
