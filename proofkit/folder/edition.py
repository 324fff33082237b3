"""What an edition folder says: settings, pulls and regions as plain values."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import numpy as np
from shapely.geometry import Polygon

from proofkit.arrays import Points
from proofkit.folder.naming import fetched_path, is_address
from proofkit.folder.signed import Signed
from proofkit.folder.wishes import Wish

Work = Literal["lines", "tone", "open", "drypoint"]
WORKS: tuple[Work, ...] = ("lines", "tone", "open", "drypoint")

TURNED = "turned"
"""Word for a plate that lies turned end for end on the bed of the press."""


@dataclass(frozen=True, slots=True)
class Wedge:
    """A step wedge that lies in every scan, beside the sheet."""

    densities: tuple[float, ...]
    """Densities of the steps in order along the wedge. [D]"""
    corners_px: tuple[tuple[float, float], ...]
    """Four corners (first step's outer side first), or the centres of the first and last step; empty: to find. [px]"""


@dataclass(frozen=True, slots=True)
class Capture:
    """How the scans were made; empty means: as the file says."""

    ppi: float | None = None
    """Resolution of the scans, overrides the files. [px/inch]"""
    tone_curve: str | None = None
    """`sRGB`, `linear`, `gamma 2.2`, `icc` or `wedge`."""
    backing: str = ""
    """What lay behind the sheets, in words."""
    wedge: Wedge | None = None
    flat_field: str = ""
    """File name of a scan of a blank sheet, beside edition.toml or in scans/; it shows how even the light is."""
    edge_px: tuple[float, float, float, float] | None = None
    """x0, y0, x1, y1 of a box that holds one slanted edge of a target, and nothing else. [px]"""


@dataclass(frozen=True, slots=True)
class Tolerance:
    """A printer's own limit for one measure, which overrides statistics."""

    region: str
    """Name of a region, or `*`."""
    measure: str
    """Column of `measurements`."""
    allowed: float
    """Largest difference from the standard that is still good. [as the measure]"""


@dataclass(frozen=True, slots=True, eq=False)
class Pull:
    """One row of pulls.csv."""

    pull: str
    """Impression in order of printing, as written in pulls.csv."""
    scan: str
    """File name inside scans/, a path relative to the edition, or the address of a file elsewhere."""
    notes: dict[str, str] = field(default_factory=dict)
    """All other cells of the row that are not empty: kind, designation, state, paper, ink, embossing, ..."""
    corners_px: Points | None = None
    """(4, 2) corners of the plate mark given by hand: top left, top right, bottom right, bottom left. [px]"""

    @property
    def is_turned(self) -> bool:
        """Whether the plate lay turned end for end on the bed of the press."""
        return self.notes.get("bed", "").casefold() == TURNED


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """A part of the plate that is measured by itself."""

    name: str
    work: Work
    outline_mm: Polygon
    """In plate mm: x right, y down, origin at the top left of the plate mark as the print is seen."""
    proposed: bool = False
    """True when proofkit proposed it and no person has taken it over."""


@dataclass(frozen=True, slots=True, eq=False)
class Edition:
    """Everything the folder says before any scan is read."""

    folder: Path
    title: str
    pulls: tuple[Pull, ...]
    regions: tuple[Region, ...]
    """Empty when there is no regions.csv: they are then proposed from the standard."""
    standard: str | None
    """Pull number of the standard; None when none is named."""
    confirming: tuple[str, ...] = ()
    declared: Literal["uniform", "varied"] = "uniform"
    plate_width_mm: float | None = None
    """Of the copper, when measured. [mm]"""
    plate_height_mm: float | None = None
    capture: Capture = field(default_factory=Capture)
    tolerances: tuple[Tolerance, ...] = ()
    watched: tuple[str, ...] = ()
    """Regions that the printer wants watched."""
    candidates: tuple[str, ...] = ()
    """Trial proofs that the standard is chosen from, when they are named."""
    wishes: tuple[Wish, ...] = ()
    """What the artist wants of regions."""
    signed: tuple[Signed, ...] = ()
    """Signatures on standards, the last one counts."""
    remarks: tuple[str, ...] = ()
    """What was assumed while reading the folder, one sentence each, for the report."""

    def scan_path(self, pull: Pull) -> Path:
        """Return where the scan of `pull` lies, or will lie once it is fetched (`proofkit.scan.fetching`)."""
        if is_address(pull.scan):
            return fetched_path(pull.scan)
        inside = self.folder / "scans" / pull.scan
        return inside if inside.exists() else self.folder / pull.scan

    @property
    def flat_field_path(self) -> Path | None:
        """Where the scan of a blank sheet lies, or should lie; None when none is named."""
        if not self.capture.flat_field:
            return None
        beside = self.folder / self.capture.flat_field
        return beside if beside.exists() else self.folder / "scans" / self.capture.flat_field


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Polygon:
    """Return an upright rectangle in plate mm."""
    return Polygon(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], dtype=np.float64))
