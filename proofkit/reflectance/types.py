"""Bare paper of a scan: its level with slow unevenness, and its colour."""

from dataclasses import dataclass

from proofkit.arrays import Floats
from proofkit.quality import Quality

CLOUD_MM = 2.0
"""Side of the squares between which clouds of the paper are told. [mm]"""


@dataclass(frozen=True, slots=True, eq=False)
class Paper:
    """Linear luminance of bare paper everywhere in a scan, as a smooth surface; D is relative to it.

    The level at a pixel is ``exp(sum(c[i, j] * u**i * v**j))`` with ``u = (x - x0) / scale`` and
    ``v = (y - y0) / scale``, i + j <= 2.
    """

    coefficients: Floats
    """(3, 3) of the polynomial of log level; entries with i + j > 2 are 0. [-]"""
    x0_px: float
    y0_px: float
    scale_px: float
    luminance: float
    """Median level of the margin, the scanner's white = 1. [-]"""
    lab: tuple[float, float, float]
    """CIE L*a*b* (D65) of the margin."""
    noise: float
    """Standard deviation of single pixels about the surface, relative to the level. [-]"""
    u_level: float
    """Relative standard uncertainty of the level inside the plate. [-]"""
    margin_fraction: float
    """Share of the scan that was taken as bare paper. [-]"""
    quality: Quality = Quality.NONE
    clouds: float = 0.0
    """Standard deviation of the paper's own tone between squares of `CLOUD_MM`, relative, told in the margin. [-]"""
