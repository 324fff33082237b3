"""What is said of a place, and where fine pictures come from."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from proofkit.arrays import Ink

FinePictures = Callable[[str, int, int], Ink]
"""``(pull, first row, row after the last) -> (rows, columns)`` of the pull's fine picture; see `fine_picture`."""

Kind = Literal["dark speck", "dark streak", "smear", "light spot", "slit", "missing stroke", "light patch"]


@dataclass(frozen=True, slots=True)
class Place:
    """One place of one sheet that leaves the picture of the edition."""

    pull: str
    kind: Kind
    x_mm: float
    """Middle, in plate mm."""
    y_mm: float
    length_mm: float
    """Along its longest direction."""
    breadth_mm: float
    """Across it."""
    direction_deg: float
    """Of its length, counter-clockwise from x, 0 to 180."""
    ink_change: float
    """Ink (1 - R/Rp) above the edition's at its strongest; negative = lighter. [-]"""
    spreads: float
    """The same in spreads of good pulls there. [-]"""


@dataclass(frozen=True, slots=True)
class FoundPlaces:
    """All places of an edition."""

    places: tuple[Place, ...]
    """By pull in order of printing, the most conspicuous first."""
    remarks: tuple[str, ...]
    """What limits them, one sentence each."""
