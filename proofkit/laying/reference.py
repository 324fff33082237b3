"""What laying needs of the standard: pictures at several pitches, and its lines."""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import INK_SCALE, INK_ZERO, Ink, Picture, Plane
from proofkit.laying.ink import ink_cells
from proofkit.laying.rectify import Box, plate_box, rectify
from proofkit.laying.types import Laying
from proofkit.scan.levels import Levels
from proofkit.threads import each_in_order

PITCHES_MM = (0.4, 0.2, 0.1, 0.05)
"""Pitches of matching from coarse to fine: each reads offsets to about a fifth of its cell, so that the next may
search less than half a hatching's period. [mm]"""


def encode_ink(luminance: Picture, paper: float) -> Ink:
    """Return ink as bytes; where there is no sheet, bare paper."""
    ink = 1.0 - np.nan_to_num(luminance / np.float32(paper), nan=1.0)
    return np.asarray(np.clip(np.rint(INK_ZERO + INK_SCALE * ink), 0, 255), dtype=np.uint8)


@dataclass(frozen=True, slots=True, eq=False)
class MatchPictures:
    """Pictures of ink of one plate in its own frame, one per pitch of `PITCHES_MM`."""

    width_mm: float
    height_mm: float
    levels: tuple[Ink, ...]


def match_pictures(
    levels: Levels, laying: Laying, paper: float, width_mm: float, height_mm: float
) -> MatchPictures:
    """Return the pictures that other sheets are matched with.

    Parameters
    ----------
    levels : Levels
        Of the standard's scan. [1/65535]
    laying : Laying
        Of the standard on itself.
    paper : float
        Luminance of its bare paper, the scanner's white = 1. [-]
    width_mm, height_mm : float
        Of the plate. [mm]
    """
    pictures = tuple(
        ink_cells(levels, laying, plate_box(width_mm, height_mm, pitch), paper)[0] for pitch in PITCHES_MM
    )
    return MatchPictures(width_mm, height_mm, pictures)


BAND_ROWS = 512
"""Rows of a large picture that are made at a time."""


def ink_picture(
    plane: Plane, laying: Laying, paper: float, size_mm: tuple[float, float], pitch_mm: float
) -> Ink:
    """Return a fine picture of ink of the whole plate, made in bands so that no sheet is held in float."""
    box = plate_box(*size_mm, pitch_mm)
    picture = np.empty((box.rows, box.columns), dtype=np.uint8)

    def make(top: int) -> None:
        rows = min(BAND_ROWS, box.rows - top)
        band = Box(box.x0_mm, box.y0_mm + top * pitch_mm, box.columns, rows, pitch_mm)
        picture[top : top + rows] = encode_ink(rectify(plane, laying, band), paper)

    each_in_order(make, range(0, box.rows, BAND_ROWS))
    return picture
