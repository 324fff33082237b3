"""What laying needs of the standard: pictures at several pitches, and its lines."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Picture, Plane
from proofkit.laying.rectify import plate_box, rectify_coarse
from proofkit.laying.types import Laying

PITCHES_MM = (0.4, 0.2, 0.1, 0.05)
"""Pitches of matching from coarse to fine: each reads offsets to about a fifth of its cell, so that the next may
search less than half a hatching's period. [mm]"""

INK_SCALE = 200.0
"""Ink 1 - R/Rp is kept as one byte: 200 codes from paper to black. [-]"""

INK_ZERO = 30.0
"""Code of bare paper, so that grain brighter than paper is kept. [-]"""


def encode_ink(luminance: Picture, paper: float) -> npt.NDArray[np.uint8]:
    """Return ink as bytes; where there is no sheet, bare paper."""
    ink = 1.0 - np.nan_to_num(luminance / np.float32(paper), nan=1.0)
    return np.asarray(np.clip(np.rint(INK_ZERO + INK_SCALE * ink), 0, 255), dtype=np.uint8)


@dataclass(frozen=True, slots=True, eq=False)
class MatchPictures:
    """Pictures of ink of one plate in its own frame, one per pitch of `PITCHES_MM`."""

    width_mm: float
    height_mm: float
    levels: tuple[npt.NDArray[np.uint8], ...]


def match_pictures(plane: Plane, laying: Laying, paper: float, width_mm: float, height_mm: float) -> MatchPictures:
    """Return the pictures that other sheets are matched with.

    Parameters
    ----------
    plane : Plane
        The standard's scan. [1/65535]
    laying : Laying
        Of the standard on itself.
    paper : float
        Luminance of its bare paper, the scanner's white = 1. [-]
    width_mm, height_mm : float
        Of the plate. [mm]
    """
    levels = tuple(
        encode_ink(rectify_coarse(plane, laying, plate_box(width_mm, height_mm, pitch)), paper)
        for pitch in PITCHES_MM
    )
    return MatchPictures(width_mm, height_mm, levels)
