"""What is known of the standard's lines."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats, Points


@dataclass(frozen=True, slots=True, eq=False)
class LineMap:
    """Centrelines as chains of evenly spaced points, in plate mm.

    All arrays run over the points; the points of one line follow each other.
    """

    points_mm: Points
    """(n, 2) plate points on the centrelines. [mm]"""
    normals: Points
    """(n, 2) unit vectors across the line, in plate mm. [-]"""
    line: npt.NDArray[np.int32]
    """(n,) number of the line each point belongs to, from 0."""
    length_mm: Floats
    """(n,) length of line that each point stands for; they sum to the length of all lines. [mm]"""
    contrast: Floats
    """(n,) ridge strength, about the depth of the line after the picture's blur. [-]"""

    @property
    def size(self) -> int:
        """Number of points."""
        return len(self.line)
