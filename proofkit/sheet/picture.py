"""Pictures of a laid sheet for looking, and the choice of a provisional standard."""

from collections.abc import Sequence

import numpy as np

from proofkit.arrays import Picture
from proofkit.errors import ProofkitError, ScanError
from proofkit.folder.edition import Edition, Pull
from proofkit.folder.naming import is_address
from proofkit.laying.rectify import Box, box_nodes, plate_box
from proofkit.laying.start import laying_of_corners
from proofkit.laying.types import to_sheet_px
from proofkit.measures.raster import reflectance_picture
from proofkit.reflectance import tone_curve
from proofkit.scan import open_scan, read_scan
from proofkit.scan.fetching import fetched
from proofkit.scan.part import opens_in_the_middle, read_part
from proofkit.scan.types import Scan, ScanFile, ToneCurve
from proofkit.sheet.cutting import moved_laying, moved_paper
from proofkit.sheet.reading import read_sheet
from proofkit.sheet.types import SheetResult
from proofkit.units import density

LOOK_PITCH_MM = 1.0
"""Cells in which sheets are compared to find the most central one. [mm]"""


def read_for_looking(edition: Edition, pull: Pull) -> Scan:
    """Return a scan in linear light, from which pictures are cut.

    Raises
    ------
    ScanError
        If it cannot be read any more.
    """
    with fetched(edition, pull) as path:
        file = open_scan(path, ppi=edition.capture.ppi)
        return read_scan(file, tone_curve(file, edition.capture))


def opened_in_parts(edition: Edition, pull: Pull) -> tuple[ScanFile, ToneCurve] | None:
    """Return the scan of a pull, for `part_picture`; None where it has to be read as a whole.

    Raises
    ------
    ScanError
        If it cannot be read any more.
    """
    if is_address(pull.scan):
        return None
    file = open_scan(edition.scan_path(pull), ppi=edition.capture.ppi)
    return (file, tone_curve(file, edition.capture)) if opens_in_the_middle(file) else None


def plate_picture(
    scan: Scan, result: SheetResult, box_mm: tuple[float, float, float, float], px_per_mm: float
) -> Picture:
    """Return a part of a sheet as it lies on the standard, for looking only.

    Parameters
    ----------
    scan, result
        The sheet and how it was laid.
    box_mm : tuple
        x0, y0, x1, y1 of the part. [plate mm]
    px_per_mm : float
        Resolution of the picture.

    Returns
    -------
    Picture
        (h, w) linear reflectance against bare paper; NaN outside the scan.
    """
    return reflectance_picture(scan, result.paper, result.laying, _cells(box_mm, px_per_mm))


def part_picture(
    opened: tuple[ScanFile, ToneCurve],
    result: SheetResult,
    box_mm: tuple[float, float, float, float],
    px_per_mm: float,
) -> Picture:
    """Return what `plate_picture` does, of no more of the scan than is needed.

    Raises
    ------
    ScanError
        As `opened_in_parts`.
    """
    file, curve = opened
    box = _cells(box_mm, px_per_mm)
    nodes = to_sheet_px(result.laying, box_nodes(box)[0])
    # The averaging of `averaged_tiles` reaches four deviations of half a cell beyond, in blocks of up to half a cell.
    beside = 8 + 4 * box.pitch_mm * result.laying.px_per_mm
    x0, y0 = (int(value) for value in np.floor(nodes.min(axis=0) - beside))
    x1, y1 = (int(value) for value in np.ceil(nodes.max(axis=0) + beside))
    if x0 >= file.width or y0 >= file.height or x1 <= 0 or y1 <= 0:
        return np.full((box.rows, box.columns), np.nan, dtype=np.float32)
    part, (left, top) = read_part(file, curve, (x0, y0, x1, y1))
    back = (-left, -top)
    return reflectance_picture(part, moved_paper(result.paper, back), moved_laying(result.laying, back), box)


def _cells(box_mm: tuple[float, float, float, float], px_per_mm: float) -> Box:
    x0, y0, x1, y1 = box_mm
    pitch = 1 / px_per_mm
    columns, rows = max(round((x1 - x0) / pitch), 1), max(round((y1 - y0) / pitch), 1)
    return Box(x0 + pitch / 2, y0 + pitch / 2, columns, rows, pitch)


def central_pull(edition: Edition, pulls: Sequence[Pull]) -> str:
    """Return the pull that is least far from all others in tone, to serve as provisional standard.

    Each sheet is laid by its plate mark alone and read in cells of 1 mm; the distance of two sheets is the mean
    absolute difference in density, and the pull with the smallest median distance is taken. A faulty sheet is far
    from all good ones, so it is not chosen as long as most are good.

    Raises
    ------
    ScanError
        If none of the sheets can be read.
    """
    pictures: dict[str, Picture] = {}
    reasons: list[str] = []
    size: tuple[float, float] | None = None
    for pull in pulls:
        try:
            read = read_sheet(edition, pull)
        except ProofkitError as error:
            reasons.append(str(error))
            continue
        if read.frame is None:
            reasons.append(f"no plate mark on {pull.scan}")
            continue
        if size is None:
            sides = np.linalg.norm(np.roll(read.frame.corners_px, -1, axis=0) - read.frame.corners_px, axis=1)
            per_mm = np.sqrt(read.scan.file.ppi_x * read.scan.file.ppi_y) / 25.4
            size = (float(sides[0] + sides[2]) / 2 / per_mm, float(sides[1] + sides[3]) / 2 / per_mm)
        laying = laying_of_corners(read.frame.corners_px, *size)
        pictures[pull.pull] = reflectance_picture(
            read.scan, read.paper, laying, plate_box(*size, LOOK_PITCH_MM)
        )
    if not pictures:
        named = [pull.pull for pull in pulls]
        if named and all(reason.startswith("no plate mark") for reason in reasons):
            return named[0]
        raise ScanError(
            f"None of the {len(named)} scans can serve as standard: {reasons[0] if reasons else 'no pulls'}"
        )
    names = list(pictures)
    tones = np.stack([density(np.clip(pictures[name], 1e-3, None)) for name in names])
    apart = np.array([[np.nanmean(np.abs(one - other)) for other in tones] for one in tones])
    return names[int(np.argmin(np.median(apart, axis=1)))]
