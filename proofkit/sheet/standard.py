"""Make the standard: its plate, its lines, its pictures and what it says of each region."""

import hashlib
from dataclasses import replace

import numpy as np

from proofkit.arrays import Points
from proofkit.errors import FrameError
from proofkit.folder.edition import Edition, Pull
from proofkit.laying.edges import edge_courses
from proofkit.laying.reference import ink_picture, match_pictures
from proofkit.laying.standard_lines import StandardLines, standard_lines
from proofkit.laying.start import Turn, laying_of_corners
from proofkit.laying.types import Laying, to_sheet_px
from proofkit.lines.centrelines import find_lines
from proofkit.lines.types import LineMap
from proofkit.measures.chosen import crossings_to_read
from proofkit.measures.close_work import CloseWork, close_work
from proofkit.measures.ghost import ghost_patches
from proofkit.measures.ground import BURR_MM
from proofkit.measures.line_neighbours import neighbour_distances
from proofkit.measures.records import region_record
from proofkit.measures.table import colour_of
from proofkit.measures.types import LaidSheet
from proofkit.quality import Quality
from proofkit.reflectance.types import Paper
from proofkit.scan.types import Scan
from proofkit.sheet.laying_down import blur_of, crossings_of, finished, measured_blur
from proofkit.sheet.proposing import propose_regions
from proofkit.sheet.reading import ReadSheet, light_on, read_sheet
from proofkit.sheet.types import Standard
from proofkit.threads import each_in_order
from proofkit.units import px_per_mm

LINE_PITCH_MM = 0.03
"""Pitch of the picture in which lines are found: a line of 40 µm and a gap of 60 µm are still apart. [mm]"""

LEAST_RIDGE = 0.02
"""Faintest ridge that may be a line, 1 - R/Rp. [-]"""

RIDGE_NOISES = 1.5
"""... and this many times the scatter of single pixels of bare paper; a ridge filter leaves about a third of it."""

EDGE_MM = 0.7
"""Lines this close to the plate mark are its bevel. [mm]"""


def make_standard(edition: Edition, pull: Pull) -> Standard:
    """Read the standard and find all that other sheets are compared with.

    Parameters
    ----------
    edition : Edition
        Its regions are used; when it has none they are proposed.
    pull : Pull
        The pull that serves as standard.

    Raises
    ------
    ProofkitError
        If its scan cannot be used: one line.
    """
    read = read_sheet(edition, pull)
    corners, quality = plate_corners(read)
    size = plate_size(edition, corners, read.scan)
    laying = laying_of_corners(corners, *size)
    scan, paper = read.scan, read.paper
    pictures = match_pictures(scan.levels, laying, paper.luminance, *size)
    too_close = close_work(scan, paper, laying, size)
    lines = _find_lines(edition, scan, paper, laying, size, too_close)
    laying = replace(finished(laying, scan, pictures, Turn(0, mirrored=False)), misfit_um=0.0)
    regions = edition.regions or propose_regions(scan, paper, laying, lines, size)
    chosen = crossings_to_read(regions, lines)
    laid = LaidSheet(scan, paper, laying, *crossings_of(scan, paper, laying, lines, chosen))
    neighbour_distances(lines)  # once, before all regions ask for them at a time
    records = tuple(
        each_in_order(lambda region: region_record(region, laid, lines, size, too_close), regions)
    )
    return Standard(
        pull=pull.pull,
        digest=hashlib.sha256(
            f"{scan.file.sha256} {scan.curve} {corners.round(3).tolist()}".encode()
        ).hexdigest(),
        regions=regions,
        plate_width_mm=size[0],
        plate_height_mm=size[1],
        pictures=pictures,
        lines=lines,
        read=chosen,
        records=records,
        edges=edge_courses(read.frame, laying),
        light=light_on(read),
        laid=laid,
        ghost=ghost_patches(laid, size),
        colour=colour_of(laid, records, lines),
        corners_px=corners,
        quality=quality,
    )


def without_scan(standard: Standard) -> Standard:
    """Return the standard without its scan: all that sheets are compared with, a small part of the memory.

    Its own row of the tables has to be measured before.
    """
    return replace(standard, laid=None)


def plate_corners(read: ReadSheet) -> tuple[Points, Quality]:
    """Return the corners of the plate, of the whole scan where no mark is to be seen."""
    if read.frame is not None:
        return read.frame.corners_px, read.quality
    w, h = read.scan.file.width - 1.0, read.scan.file.height - 1.0
    if read.paper.luminance <= 0:
        msg = f"{read.scan.file.path.name} shows neither a plate mark nor paper; choose another standard"
        raise FrameError(msg)
    return np.array([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]), read.quality


def plate_size(edition: Edition, corners: Points, scan: Scan) -> tuple[float, float]:
    """Return width and height of the plate: of the copper when given, else as the standard shows it. [mm]"""
    sides = np.roll(corners, -1, axis=0) - corners
    sides = sides / (px_per_mm(scan.file.ppi_x), px_per_mm(scan.file.ppi_y))
    top, right, bottom, left = np.linalg.norm(sides, axis=1)
    width = edition.plate_width_mm or float(top + bottom) / 2
    height = edition.plate_height_mm or float(left + right) / 2
    return width, height


def _find_lines(
    edition: Edition,
    scan: Scan,
    paper: Paper,
    laying: Laying,
    size: tuple[float, float],
    too_close: CloseWork,
) -> StandardLines:
    """Return the standard's lines; those found in work too close for the scan may be none, and are clear nowhere."""
    ink = ink_picture(scan.plane, laying, paper.luminance, size, LINE_PITCH_MM)
    found = find_lines(ink, LINE_PITCH_MM, max(LEAST_RIDGE, RIDGE_NOISES * paper.noise))
    found = _off_the_edge(found, size)
    skirt = _skirts(edition, found)
    guess = blur_of(scan)
    lines = _told(standard_lines(scan.plane, paper, laying, found, guess, skirt), laying, too_close)
    blur = measured_blur(scan, paper, laying, lines)
    if abs(blur / guess - 1) > 0.03:
        lines = _told(standard_lines(scan.plane, paper, laying, found, blur, skirt), laying, too_close)
    return lines


def _told(lines: StandardLines, laying: Laying, too_close: CloseWork) -> StandardLines:
    """Return the lines without clear crossings where the line work is too close."""
    return replace(lines, clear=lines.clear & ~too_close.at(to_sheet_px(laying, lines.lines.points_mm)))


def _off_the_edge(lines: LineMap, size: tuple[float, float]) -> LineMap:
    """Return the lines without those that run along the plate mark."""
    x, y = lines.points_mm.T
    keep = (x > EDGE_MM) & (y > EDGE_MM) & (x < size[0] - EDGE_MM) & (y < size[1] - EDGE_MM)
    number = np.unique(lines.line[keep], return_inverse=True)[1].astype(np.int32)
    return LineMap(
        lines.points_mm[keep], lines.normals[keep], number, lines.length_mm[keep], lines.contrast[keep]
    )


def _skirts(edition: Edition, lines: LineMap) -> np.ndarray:
    """Return how far the burr of each line may reach: only in regions of drypoint. [mm]"""
    from shapely import contains_xy  # noqa: PLC0415  only editions with drypoint need it

    skirt = np.zeros(lines.size)
    for region in edition.regions:
        if region.work == "drypoint" and lines.size:
            inside = contains_xy(region.outline_mm, lines.points_mm[:, 0], lines.points_mm[:, 1])
            skirt[inside] = BURR_MM - 0.06
    return skirt
