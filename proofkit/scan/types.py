"""What a scan is once it is read: linear luminance in the scan's own pixels, and where it came from."""

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Picture, Plane
from proofkit.quality import Quality
from proofkit.scan.levels import Levels, levels_of


@dataclass(frozen=True, slots=True, eq=False)
class ScanFile:
    """A scan file that was opened and found to be readable, before its pixels are read."""

    path: Path
    width: int
    """After the orientation tag is applied. [px]"""
    height: int
    bits: int
    """8 or 16, of each channel."""
    channels: int
    """1 grey or 3 RGB; alpha and other extra channels are not counted."""
    ppi_x: float
    ppi_y: float
    orientation: int
    """TIFF/Exif orientation 1 to 8."""
    icc_profile: bytes | None
    sha256: str
    compression: str
    """`none`, `lzw`, `deflate`, `zstd`, `jpeg`, `png`, ..."""
    quality: Quality = Quality.NONE
    declared_curve: str = ""
    """`sRGB`, `linear` or `gamma 2.2` when the file says so without a profile (PNG chunks, Exif)."""
    remarks: tuple[str, ...] = ()
    """What was odd but readable, one clause each, for the report."""
    stamp: str = ""
    """Of the file before it was opened, see `file_stamp`; empty to believe that it does not change."""


@dataclass(frozen=True, slots=True, eq=False)
class ToneCurve:
    """How codes become linear light: a table for each channel, then a weighted sum."""

    tables: npt.NDArray[np.float32]
    """(channels, 256 or 65536) linear light of each code, 0 to 1. [-]"""
    weights: tuple[float, ...]
    """Weight of each channel in luminance; they sum to 1."""
    name: str
    """For the report: `sRGB (assumed)`, `linear`, `gamma 2.2`, `embedded profile "..."`, `step wedge, ...`."""
    residual_density: float = 0.0
    """Rms residual of a fitted curve at its steps. [D]"""
    quality: Quality = Quality.NONE


@dataclass(frozen=True, eq=False)
class Scan:
    """A scan in memory: one linear plane and a small colour overview."""

    file: ScanFile
    plane: Plane
    """(h, w) linear luminance, upright. [1/65535]"""
    overview: Picture
    """(ceil(h/step), ceil(w/step), 3) mean linear RGB of blocks of `overview_step` px (grey: three equal). [-]"""
    overview_step: int
    """Side of an overview block. [px]"""
    curve: str
    """Name of the tone curve that was applied."""
    quality: Quality = Quality.NONE
    curve_residual_density: float = 0.0
    """Rms residual of a fitted curve at its steps. [D]"""

    @cached_property
    def levels(self) -> Levels:
        """The plane and its reductions, made when first asked for."""
        return levels_of(self.plane)
