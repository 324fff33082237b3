"""Names for the arrays that travel between modules, so that signatures say what is inside.

Arrays are ``(row, column)``; points are ``(x, y)`` with x to the right and y down. The centre of the
top-left pixel is at ``(0.0, 0.0)``, so pixel ``(row 2, column 5)`` has its centre at ``x = 5.0, y = 2.0``
and a scan of width ``w`` reaches from x = -0.5 to x = w - 0.5.
"""

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

Plane: TypeAlias = npt.NDArray[np.uint16]
"""(h, w) linear luminance of a scan, 65535 = the scanner's white. [1/65535]"""

Points: TypeAlias = npt.NDArray[np.float64]
"""(n, 2) points, x then y; the name of the variable carries the unit (`_px` or `_mm`)."""

Floats: TypeAlias = npt.NDArray[np.float64]
"""Any float64 array; the docstring gives shape and unit."""

Complexes: TypeAlias = npt.NDArray[np.complex128]
"""Any complex array: spectra."""

Spectrum: TypeAlias = npt.NDArray[np.complex64]
"""The transform of a `Picture`."""

Index: TypeAlias = npt.NDArray[np.intp]
"""Places in another array."""

Numbers: TypeAlias = npt.NDArray[np.integer]
"""Whole numbers of any size: the number of a line, of a cell."""

Picture: TypeAlias = npt.NDArray[np.float32]
"""A float32 image of limited size (an overview, a patch), never a whole sheet."""

Ink: TypeAlias = npt.NDArray[np.uint8]
"""(h, w) ink 1 - R/Rp as one byte: `INK_ZERO` is bare paper, `INK_SCALE` codes more are full black."""

INK_SCALE = 200.0
"""Codes of an `Ink` picture from paper to black."""

INK_ZERO = 30.0
"""Code of bare paper, so that grain brighter than paper is kept."""

Mask: TypeAlias = npt.NDArray[np.bool_]
"""A boolean image or selection."""

Bits: TypeAlias = npt.NDArray[np.uint8]
"""(rows, columns / 8 rounded up) a mask as `packed` keeps it, eight cells to a byte."""


def packed(mask: Mask) -> Bits:
    """Return a mask in an eighth of its memory, see `unpacked`."""
    return np.packbits(mask, axis=1)


def unpacked(bits: Bits, columns: int) -> Mask:
    """Return the mask of so many columns that was `packed`.

    >>> unpacked(packed(np.array([[True, False, True]])), 3).tolist()
    [[True, False, True]]
    """
    return np.unpackbits(bits, axis=1, count=columns).view(np.bool_)


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """Values at some of many places and NaN at all others, read like an array of all places; see `placed_at`."""

    values: Floats
    """(k + 1,) those that there are, and a NaN at the end."""
    slots: npt.NDArray[np.int32]
    """(n,) where each place finds its value; `Placed` of the same places share them."""

    def __getitem__(self, index: Index | Mask | slice) -> Floats:
        """Return the values at some places."""
        return np.asarray(self.values[self.slots[index]])


def slots_of(index: Index, size: int) -> npt.NDArray[np.int32]:
    """Return the slots of `Placed` for values at places `index` (k,) among `size`."""
    slots = np.full(size, len(index), dtype=np.int32)
    slots[index] = np.arange(len(index), dtype=np.int32)
    return slots


def placed_at(slots: npt.NDArray[np.int32], values: Floats) -> Placed:
    """Return values (k,) at the places that `slots_of` was given.

    >>> placed_at(slots_of(np.array([1, 3]), 4), np.array([5.0, 7.0]))[:].tolist()
    [nan, 5.0, nan, 7.0]
    """
    return Placed(np.append(values, np.nan), slots)


FULL_SCALE = 65535.0
"""Value of a `Plane` that means the scanner's white (linear luminance 1)."""
