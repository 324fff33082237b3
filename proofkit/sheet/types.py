"""What is made of a sheet, and of the standard."""

from dataclasses import dataclass, field

from proofkit.arrays import Index, Ink, Picture, Points
from proofkit.folder.edition import Region
from proofkit.laying.edges import EdgeCourse
from proofkit.laying.reference import MatchPictures
from proofkit.laying.standard_lines import StandardLines
from proofkit.laying.types import Laying
from proofkit.measures.colour import SheetColour
from proofkit.measures.ghost import Patch
from proofkit.measures.types import LaidSheet, RegionRecord
from proofkit.quality import Quality
from proofkit.reflectance.surface import Surface
from proofkit.reflectance.types import Paper


@dataclass(frozen=True, slots=True, eq=False)
class SheetResult:
    """A measured sheet; this is what the ledger keeps."""

    sheet: dict[str, object]
    """Row of `sheets`."""
    rows: list[dict[str, object]]
    """Rows of `measurements`, one a region."""
    histograms: dict[str, list[int]]
    """Region -> counts of its density histogram."""
    tone_picture: Picture
    """Coarse picture of R/Rp in the plate frame; NaN outside the scan."""
    laying: Laying
    paper: Paper
    corners_px: Points
    """(4, 2) corners of the plate mark. [px]"""
    specks: list[dict[str, object]] = field(default_factory=list)
    """Rows of `specks`."""
    fine: Ink | None = None
    """Fine picture, see `fine_picture`; None for a sheet from the ledger, which gives it strip by strip."""
    not_laid: str = ""
    """Why the sheet could not be laid on the standard, in one line: then only its row of `sheets` says anything."""


@dataclass(frozen=True, slots=True, eq=False)
class Standard:
    """The standard as every other sheet is compared with it."""

    pull: str
    digest: str
    """Changes when the standard's scan or its reading changes."""
    regions: tuple[Region, ...]
    plate_width_mm: float
    plate_height_mm: float
    pictures: MatchPictures
    lines: StandardLines
    read: Index
    """Points of `lines` whose crossings are read on every sheet, see `crossings_to_read`."""
    records: tuple[RegionRecord, ...]
    edges: tuple[EdgeCourse, ...]
    """Where its plate mark runs."""
    light: Surface | None
    """On its scan; None where its margin says too little."""
    laid: LaidSheet | None
    """The standard laid on itself; None once its own row is measured, see `without_scan`."""
    ghost: tuple[Patch, ...]
    """Patches in which a second set of lines is looked for."""
    colour: SheetColour
    """Of its paper, ink and film."""
    corners_px: Points
    quality: Quality
