"""Scan file -> linear luminance, plate mark and bare paper."""

from dataclasses import dataclass

from proofkit.errors import FrameError
from proofkit.folder.edition import Edition, Pull
from proofkit.frame import find_frame, frame_from_corners
from proofkit.frame.types import PlateFrame
from proofkit.quality import Quality
from proofkit.reflectance import find_paper, rough_paper, tone_curve
from proofkit.reflectance.types import Paper
from proofkit.scan import open_scan, read_scan
from proofkit.scan.fetching import fetched
from proofkit.scan.types import Scan
from proofkit.units import px_per_mm

MARK_CLEARANCE_MM = 1.0
"""Bare paper begins this far outside the plate mark: emboss shade and bevel ink end there. [mm]"""

LOW_PPI = 300.0
"""Under this resolution line measures are doubtful (two pixels to a line of 0.17 mm). [px/inch]"""


@dataclass(frozen=True, slots=True, eq=False)
class ReadSheet:
    """A scan that was read, before it is laid."""

    scan: Scan
    paper: Paper
    frame: PlateFrame | None
    """None when no plate mark was found."""
    quality: Quality


def read_sheet(edition: Edition, pull: Pull) -> ReadSheet:
    """Return a pull's scan with its plate mark and bare paper.

    Raises
    ------
    ScanError, CalibrationError, FrameError
        If the scan cannot be read or the corners given by hand make no plate.
    """
    with fetched(edition, pull) as path:
        file = open_scan(path, ppi=edition.capture.ppi)
        scan = read_scan(file, tone_curve(file, edition.capture))
    guess = rough_paper(scan)
    quality = file.quality | scan.quality
    if min(file.ppi_x, file.ppi_y) < LOW_PPI:
        quality |= Quality.LOW_RESOLUTION
    frame = _frame(edition, pull, scan, guess)
    if frame is None:
        quality |= Quality.NO_PLATE_MARK
        paper = find_paper(scan, None, clearance_px=0.0)
    else:
        quality |= frame.quality
        clearance = MARK_CLEARANCE_MM * px_per_mm(max(file.ppi_x, file.ppi_y))
        paper = find_paper(scan, frame.corners_px, clearance_px=clearance)
    return ReadSheet(scan, paper, frame, quality | paper.quality)


def _frame(edition: Edition, pull: Pull, scan: Scan, guess: float) -> PlateFrame | None:
    """Return the plate mark by hand or as found; None when there is none to be found."""
    if pull.corners_px is not None:
        return frame_from_corners(pull.corners_px, scan)
    size = None
    if edition.plate_width_mm is not None and edition.plate_height_mm is not None:
        file = scan.file
        size = (
            edition.plate_width_mm * px_per_mm(file.ppi_x),
            edition.plate_height_mm * px_per_mm(file.ppi_y),
        )
    aspect = None if size is None else size[0] / size[1]
    try:
        return find_frame(scan, rough_paper=guess, aspect=aspect, size_px=size)
    except FrameError:
        return None
