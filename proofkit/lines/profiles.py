"""Profiles across lines, read in a scan's own pixels."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats, Plane, Points
from proofkit.lines.profile_kernels import sample_profiles
from proofkit.reflectance.types import Paper

STEP_FRACTION = 0.25
"""Samples across a line are a quarter pixel apart: the sum over them is the integral to 0.1 %. [px]"""

REACH_MM = 0.45
"""Profiles reach this far to each side: half a broad line, its blur and a strip of ground. [mm]"""


class Profiles(NamedTuple):
    """Reflectance across many crossings."""

    values: npt.NDArray[np.float32]
    """(n, m) linear reflectance against bare paper; NaN outside the scan. [-]"""
    s_mm: Floats
    """(m,) place along the normal, in plate mm; 0 on the expected centreline."""


def read_profiles(
    plane: Plane,
    paper: Paper,
    centres_px: Points,
    across_px_per_mm: Points,
    px_per_mm: float,
    reach_mm: float = REACH_MM,
) -> Profiles:
    """Return profiles across lines.

    Parameters
    ----------
    plane : Plane
        (h, w) linear luminance. [1/65535]
    paper : Paper
        Level of bare paper everywhere in the scan.
    centres_px : Points
        (n, 2) where the centrelines are expected. [px]
    across_px_per_mm : Points
        (n, 2) what one plate millimetre along the normal is in the scan. [px/mm]
    px_per_mm : float
        About how many pixels a plate millimetre has.
    reach_mm : float, default REACH_MM
        Half length of a profile. [mm]

    Notes
    -----
    Each sample is the mean of three readings beside each other, 0.7 px apart along the line, which costs no sharpness
    across it. They are read by cubic convolution, since linear interpolation would blur by another 0.4 px.
    """
    step_mm = STEP_FRACTION / px_per_mm
    half = int(np.ceil(reach_mm / step_mm))
    s_mm: Floats = np.arange(-half, half + 1, dtype=np.float64) * step_mm
    values = sample_profiles(
        plane,
        np.ascontiguousarray(centres_px),
        np.ascontiguousarray(across_px_per_mm * step_mm),
        half,
        *surface_of(paper),
    )
    return Profiles(values, s_mm)


def surface_of(paper: Paper) -> tuple[Floats, Floats]:
    """Return the coefficients of a paper level, and x0, y0 and scale, as the kernels take them."""
    place = np.array([paper.x0_px, paper.y0_px, paper.scale_px])
    return np.ascontiguousarray(paper.coefficients, dtype=np.float64), place
