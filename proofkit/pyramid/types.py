"""What a pyramid is: where its levels lie in one file, and what scan they show."""

from dataclasses import dataclass
from pathlib import Path

from proofkit.arrays import Plane

FORMAT = 1
"""Number of this layout of pyramid files; others are made anew."""


@dataclass(frozen=True, slots=True)
class Level:
    """One resolution of the sheet, row after row in the file."""

    offset: int
    """Where it begins in the file. [byte]"""
    rows: int
    """In the order of the scan file. [px of the level]"""
    columns: int


@dataclass(frozen=True, slots=True)
class Pyramid:
    """A scan at resolutions that halve from level to level; level 0 is the scan itself.

    Pixel ``(r, c)`` of level k is the mean linear luminance of the stored scan's pixels from row ``r * 2**k`` to
    ``(r + 1) * 2**k`` and columns alike; at the right and bottom edge of those that there are.
    """

    path: Path
    scan: str
    """File name of the scan."""
    sha256: str
    """Of the scan file."""
    stamp: str
    """Size and times of the scan file when it was read."""
    setup: str
    """Tone curve that was asked for, resolution if it was given, and the program that read the scan."""
    curve: str
    """Name of the tone curve that was applied."""
    width: int
    """Upright. [px]"""
    height: int
    orientation: int
    """TIFF/Exif orientation 1 to 8; levels are as the file stores the sheet."""
    ppi_x: float
    ppi_y: float
    levels: tuple[Level, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A part of one level, upright."""

    plane: Plane
    """(rows, columns) linear luminance. [1/65535]"""
    step: int
    """Scan pixels along the side of one of the level's. [px]"""
    left_px: float
    """Centre of the first column in the upright scan. [px]"""
    top_px: float
    """Centre of the first row. [px]"""
