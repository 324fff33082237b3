"""What is known when the pulls of two states lie on each other."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats, Mask, Points
from proofkit.folder.edition import Edition, Pull
from proofkit.laying.standard_lines import StandardLines

Side = Literal["A", "B"]

ChangeKind = Literal["added", "removed", "deepened", "lightened", "scratch", "doubtful"]
KINDS: tuple[ChangeKind, ...] = ("added", "removed", "deepened", "lightened", "scratch", "doubtful")


@dataclass(frozen=True, slots=True, eq=False)
class PullOfState:
    """A pull that is to be compared, and the edition it belongs to."""

    side: Side
    name: str
    edition: Edition
    pull: Pull


@dataclass(frozen=True, slots=True, eq=False)
class SharedLines:
    """The lines of both states as one set, read on every pull. Arrays run over the n points of the lines."""

    lines: StandardLines
    found_on: npt.NDArray[np.intp]
    """(n,) number of the pull on which the line was found."""
    hidden: Mask
    """(n,) the line is seen in the difference of two pulls only, as hatching hides it."""
    is_difference: Mask
    """(n,) the line was found in the difference of two pulls, and `dip` is read there."""
    mesh: Mask
    """(n,) the line is a piece of a mesh, which is tone and no stroke."""
    sides: tuple[Side, ...]
    """(p,) state of each pull."""
    load_um: Floats
    """(p, n) load of every crossing on every pull; NaN outside its scan. [µm]"""
    dip: Floats
    """(p, n) how much darker than its sides the line is, averaged along it; R/Rp. Of a line that was found in a
    difference: `taken`."""
    taken: Floats
    """(p, n) share of the light that a line takes away of the first pull that lacks it, less that at its sides; NaN for
    lines of the base. [-]"""
    ground: Floats
    """(p, n) ground of the neighbourhood of each line, R/Rp."""


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """A stroke, or a stretch of one, that differs between the states."""

    kind: ChangeKind
    points_mm: Points
    """(m, 2) its course. [plate mm]"""
    length_mm: float
    width_mm: float
    """Width of the line on the pull where it was found."""
    load_before_um: float
    """Median over the pulls of state A, brought to the ink of the first pull. [µm]"""
    load_after_um: float
    doubt: str = ""
    """Why a doubtful one is doubtful."""


@dataclass(frozen=True, slots=True, eq=False)
class ChangedArea:
    """Ground on which strokes of one kind lie close together, or whose tone changed."""

    kind: ChangeKind
    outline_mm: Points
    """(m, 2) outline. [plate mm]"""
    area_mm2: float
    strokes: int
    """Changed strokes on it; 0 where its tone changed."""
    length_mm: float
    tone_density: tuple[float, float] | None = None
    """Of a tone: density above the plate's clear ground before and after, film and ink taken off; else None. [D]"""
    doubt: str = ""
    """Why a doubtful one is doubtful."""


@dataclass(frozen=True, slots=True, eq=False)
class Likeness:
    """How far one pull shows the lines of the plate it was laid on."""

    agreeing_fraction: float
    """Share of the cells with enough lines, in which nearly all lines lie where they should. [-]"""
    cells: int
    """Cells with enough lines of the base pull inside the scan."""
    misfit_um: float
    """Robust spread of all lines about their places. [µm]"""
    same_plate: bool
