"""What is known of a drawing and a print that are laid on each other."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats, Points
from proofkit.laying.types import Laying


@dataclass(frozen=True, slots=True, eq=False)
class Courses:
    """Lines as chains of points with the direction they run in. Arrays run over the points."""

    points_mm: Points
    """(n, 2)."""
    direction: Floats
    """(n,) 0 to pi, from x towards y. [rad]"""
    line: npt.NDArray[np.int32]
    """(n,) number of the line each point belongs to."""
    length_mm: Floats
    """(n,) length of line that each point stands for."""
    weight: Floats
    """(n,) 0 to 1: lines of hatching count less than contours."""


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """How a drawing lies on a print, read one way."""

    affine: Floats
    """(2, 3) drawing mm -> print mm."""
    covered_fraction: float
    """Share of the drawing's line length that lies on printed lines. [-]"""
    chance_fraction: float
    """The same with the drawing pushed aside: what lies on lines by chance. [-]"""

    @property
    def above_chance(self) -> float:
        """How far coverage exceeds chance. [-]"""
        return self.covered_fraction - self.chance_fraction


@dataclass(frozen=True, slots=True, eq=False)
class Contour:
    """One line of the drawing, followed on the print."""

    drawn_mm: Points
    """(m, 2) its points. [drawing mm]"""
    points_mm: Points
    """(m, 2) where the drawing has it, by the affine map alone. [print mm]"""
    length_mm: float
    stretch_mm: Floats
    """(m,) smooth part of its way to the printed line, across itself; signed."""
    departure_mm: Floats
    """(m,) rest of the way; signed, NaN where no printed line follows it."""
    normals: Points
    """(m, 2) direction in which both are counted. [-]"""
    covered_fraction: float
    hatches: bool = False
    """It is one of a stack of drawn hatching."""


@dataclass(frozen=True, slots=True, eq=False)
class Departure:
    """A stretch of contour that the print has elsewhere, on purpose or by accident."""

    contour: int
    points_mm: Points
    """(m, 2) where the drawing has it, stretch of the paper taken off. [print mm]"""
    printed_mm: Points
    """(m, 2) where the print has it."""
    length_mm: float
    departure_mm: float
    """Distance of the two, 90th percentile over the stretch; positive. [mm]"""


@dataclass(frozen=True, slots=True, eq=False)
class ComparedDrawing:
    """A drawing compared with a print."""

    reading: str
    """`mirrored` or `direct`."""
    fits: tuple[Fit, Fit]
    """Read direct, read mirrored."""
    laying: Laying
    """Drawing mm -> print mm: affine map and smooth stretch."""
    contours: tuple[Contour, ...]
    departures: tuple[Departure, ...]
    covered_fraction: float
    """Share of the drawing's line length followed by printed lines. [-]"""
    scale_x: float
    """Print mm per drawing mm along the print's x."""
    scale_y: float
    shear: float
    rotation_deg: float
    """Turn of the drawing against the print, counter-clockwise."""
    stretch_mm: float
    """Rms of the smooth part along the contours. [mm]"""
    size_mm: tuple[float, float]
    """Width and height of the print's plate."""
    remarks: tuple[str, ...] = ()
