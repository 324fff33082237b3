"""Scan file -> linear luminance, plate mark and bare paper."""

from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path

from proofkit.arrays import Picture
from proofkit.errors import CalibrationError, FrameError, ScanError
from proofkit.folder.edition import Edition, Pull
from proofkit.folder.problems import quoted
from proofkit.frame import find_frame, frame_from_corners
from proofkit.frame.types import PlateFrame
from proofkit.quality import Quality
from proofkit.reflectance import find_light, find_paper, rough_paper, tone_curve
from proofkit.reflectance.flat_field import evened, flat_gain
from proofkit.reflectance.surface import Surface
from proofkit.reflectance.types import Paper
from proofkit.scan import open_scan, read_scan
from proofkit.scan.fetching import fetched
from proofkit.scan.hashing import file_hash
from proofkit.scan.types import Scan, ScanFile, ToneCurve
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
    light: Surface | None = None
    """Light that the scan was probably taken under, see `find_light`."""
    is_part: bool = False
    """What lay outside the plate mark was let go of, see `cut_to_plate`."""


def read_sheet(
    edition: Edition,
    pull: Pull,
    light: Surface | None = None,
    like_mm: tuple[float, float] | None = None,
) -> ReadSheet:
    """Return a pull's scan with its plate mark and bare paper.

    Parameters
    ----------
    edition : Edition
    pull : Pull
    light : Surface, optional
        On the standard's scan: scans of one edition mostly come from one scanner, and where both were taken under one
        light, clouds in the margin are not taken for a difference of it.
    like_mm : (float, float), optional
        Width and height of the plate on the standard, by which its mark is looked for first. [mm]

    Raises
    ------
    ScanError, CalibrationError, FrameError
        If the scan cannot be read or the corners given by hand make no plate.
    """
    with fetched(edition, pull) as path:
        file = open_scan(path, ppi=edition.capture.ppi)
        curve = tone_curve(file, edition.capture)
        scan = read_scan(file, curve)
    scan = _evened(edition, scan, curve)
    guess = rough_paper(scan)
    quality = file.quality | scan.quality
    if min(file.ppi_x, file.ppi_y) < LOW_PPI:
        quality |= Quality.LOW_RESOLUTION
    frame = _frame(edition, pull, scan, guess, like_mm)
    if frame is None:
        quality |= Quality.NO_PLATE_MARK
        paper = find_paper(scan, None, clearance_px=0.0)
    else:
        quality |= frame.quality
        paper = find_paper(scan, frame.corners_px, clearance_px=_clearance_px(file), like=light)
    return ReadSheet(scan, paper, frame, quality | paper.quality, light)


def light_on(read: ReadSheet) -> Surface | None:
    """Return the light that a sheet was scanned under; None where its margin says too little."""
    if read.frame is None:
        return None
    return find_light(read.scan, read.frame.corners_px, clearance_px=_clearance_px(read.scan.file))


def _clearance_px(file: ScanFile) -> float:
    return MARK_CLEARANCE_MM * px_per_mm(max(file.ppi_x, file.ppi_y))


@dataclass(frozen=True, slots=True)
class _Flat:
    """A flat field and the scans that it is for; two are the same when all but the scan at hand are."""

    path: Path
    sha256: str
    like: tuple[float | str, ...]
    """Size, depth, resolution and curve of the scans."""
    file: ScanFile = field(compare=False)
    curve: ToneCurve = field(compare=False)
    ppi: float | None = field(compare=False)


@lru_cache(maxsize=1)
def _gain_of(flat: _Flat) -> Picture:
    """Return the gain of a flat field; it is read once for all sheets that are alike."""
    return flat_gain(flat.path, flat.file, flat.curve, flat.ppi)


def _evened(edition: Edition, scan: Scan, curve: ToneCurve) -> Scan:
    """Return a scan evened by the edition's flat field, as it is where there is none or it does not fit."""
    name, path = edition.capture.flat_field, edition.flat_field_path
    if path is None:
        return scan
    file = scan.file
    like = (file.width, file.height, file.bits, file.channels, file.ppi_x, file.ppi_y, curve.name)
    try:
        flat = _Flat(path, file_hash(path), like, file, curve, edition.capture.ppi)
        return evened(scan, _gain_of(flat))
    except OSError:
        why = f"There is no {quoted(name)} in the edition. Put it there, or take flat_field out of edition.toml."
    except (ScanError, CalibrationError) as error:
        why = str(error)
    return replace(
        scan, quality=scan.quality | Quality.NO_FLAT_FIELD, curve=f"{scan.curve}, not evened: {why}"
    )


def frame_on(edition: Edition, pull: Pull, scan: Scan) -> PlateFrame | None:
    """Return the plate mark on a scan that was read, as `read_sheet` finds it; None when there is none to be found."""
    return _frame(edition, pull, scan, rough_paper(scan), None)


def _frame(
    edition: Edition, pull: Pull, scan: Scan, guess: float, like_mm: tuple[float, float] | None
) -> PlateFrame | None:
    """Return the plate mark by hand or as found; None when there is none to be found."""
    if pull.corners_px is not None:
        return frame_from_corners(pull.corners_px, scan)
    size = None
    if edition.plate_width_mm is not None and edition.plate_height_mm is not None:
        size = _size_px((edition.plate_width_mm, edition.plate_height_mm), scan.file)
    like = None if like_mm is None else _size_px(like_mm, scan.file)
    aspect = None if size is None else size[0] / size[1]
    try:
        return find_frame(scan, rough_paper=guess, aspect=aspect, size_px=size, like_px=like)
    except FrameError:
        return None


def _size_px(size_mm: tuple[float, float], file: ScanFile) -> tuple[float, float]:
    return size_mm[0] * px_per_mm(file.ppi_x), size_mm[1] * px_per_mm(file.ppi_y)
