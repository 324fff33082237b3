"""Lay a sheet that was read on the standard."""

from dataclasses import dataclass, replace

import numpy as np

from proofkit.arrays import Floats, Index, Points
from proofkit.errors import LayingError, UnlikeError
from proofkit.laying.coarse import refine
from proofkit.laying.edges import EdgeCourse
from proofkit.laying.fine import PlateEdges, fit_lines
from proofkit.laying.reference import MatchPictures
from proofkit.laying.spline import split_affine
from proofkit.laying.standard_lines import StandardLines, part_of, read_crossings
from proofkit.laying.start import Turn, from_frame, from_picture
from proofkit.laying.types import Laying, to_sheet_px
from proofkit.lines.crossings import TEN_NINETY_SIGMAS, PlacedValues, placed_among
from proofkit.measures.types import LaidSheet
from proofkit.quality import Quality
from proofkit.reflectance import find_paper
from proofkit.reflectance.types import Paper
from proofkit.scan.types import Scan
from proofkit.sheet.reading import MARK_CLEARANCE_MM, ReadSheet
from proofkit.units import UM_PER_MM, px_per_mm

LEAST_LIKENESS = 0.4
"""Patches of the same plate correlate with 0.9 and more even when weakly printed, those of another plate with 0.05
(simulated sheets). [-]"""

OPTICS_SIGMA_MM = 0.018
"""Blur of a flatbed's optics when the sheet has no line broad enough to tell (common practice). [mm]"""

LAID_REACH_MM = 0.05
"""A laid line is looked for no further from its place, and no further than 0.3 of its spacing. [mm]"""

BROAD_FEWEST = 200
"""Fewer edges say too little of the blur."""

BROAD_MOST = 4000
"""... and more add nothing: a percentile of so many, scattered by a tenth, is right to 0.3 %, and the fits find the
blur anew."""

BROAD_SIGMAS = 5.0
"""Edges of lines this many blur sigmas wide tell the blur: the other edge changes 10-90 % by under 1 %."""

FRAME_FLAGS = Quality.PART_OF_PLATE_MARK | Quality.NO_PLATE_MARK

STRETCH_LIMIT = 0.08
"""Damp paper dries 0 to 2.5 % smaller, relief blocks on thin paper up to 5.5 % (common practice; stamps as reported);
more is a wrong resolution. [-]"""

MISFIT_LIMIT_UM = 60.0
"""From this misfit on a sheet's line measures are not compared. [µm]"""


@dataclass(frozen=True, slots=True, eq=False)
class LaidDown:
    """A laid sheet and what was found on the way."""

    laid: LaidSheet
    corners_px: Points
    quality: Quality


def blur_of(scan: Scan) -> float:
    """Return the blur a scan has by its pixels and usual optics. [mm]

    A pixel is a box of variance 1/12 px².
    """
    px_mm = 1 / px_per_mm(float(np.sqrt(scan.file.ppi_x * scan.file.ppi_y)))
    return float(np.hypot(OPTICS_SIGMA_MM, px_mm / np.sqrt(12)))


def measured_blur(scan: Scan, paper: Paper, laying: Laying, lines: StandardLines) -> float:
    """Return the blur told by the edges of broad lines, or the guess when there are too few. [mm]"""
    guess = blur_of(scan)
    broad = np.flatnonzero(lines.clear & (lines.spans.width_mm > BROAD_SIGMAS * guess))
    if len(broad) < BROAD_FEWEST:
        return guess
    broad = broad[:: max(len(broad) // BROAD_MOST, 1)]
    reach = reach_of(lines)[broad]
    values = read_crossings(scan.plane, paper, laying, part_of(lines.places, broad), guess, reach)
    softness = values.softness_um[np.isfinite(values.softness_um)]
    if len(softness) < BROAD_FEWEST:
        return guess
    sigma = float(np.percentile(softness, 30)) / UM_PER_MM / TEN_NINETY_SIGMAS
    return float(np.clip(sigma, 0.6 * guess, 2.0 * guess))


def reach_of(lines: StandardLines) -> Floats:
    """Return how far from its place each line may lie on a laid sheet. (n,) [mm]"""
    return np.minimum(LAID_REACH_MM, 0.3 * lines.spacing_mm)


def crossings_of(
    scan: Scan, paper: Paper, laying: Laying, lines: StandardLines, chosen: Index
) -> tuple[float, PlacedValues]:
    """Return the blur of a laid scan [mm], and the crossings `chosen` read with it; all others are NaN."""
    blur = measured_blur(scan, paper, laying, lines)
    at, reach = part_of(lines.places, chosen), reach_of(lines)[chosen]
    values = read_crossings(scan.plane, paper, laying, at, blur, reach)
    return blur, placed_among(values, chosen, lines.lines.size)


def lay_down(
    read: ReadSheet,
    pictures: MatchPictures,
    lines: StandardLines,
    chosen: Index,
    courses: tuple[EdgeCourse, ...] = (),
) -> LaidDown:
    """Lay a sheet on the standard.

    Parameters
    ----------
    read : ReadSheet
    pictures, lines
        Of the standard.
    chosen : Index
        Points of the lines whose crossings are read.
    courses : tuple of EdgeCourse
        Where the standard's plate mark runs.

    Raises
    ------
    UnlikeError
        If the sheet shows another plate, or nothing.
    LayingError
        If its size cannot be right.
    """
    scan = read.scan
    laying, turn, by_mark = _by_patches(read, pictures)
    if not by_mark:
        read = replace(read, frame=None, quality=(read.quality & ~FRAME_FLAGS) | Quality.NO_PLATE_MARK)
    paper, quality = _paper_of(read, laying, pictures)
    guess = blur_of(scan)
    if lines.lines.size:
        edges = None if read.frame is None else PlateEdges(read.frame, courses)
        laying = fit_lines(laying, scan.plane, paper, lines, guess, edges).laying
    laying = finished(laying, scan, pictures, turn)
    _check_size(laying, scan)
    blur, crossings = crossings_of(scan, paper, laying, lines, chosen)
    if turn.quarters == 2:
        quality |= Quality.UPSIDE_DOWN
    if turn.mirrored:
        quality |= Quality.MIRRORED
    if np.isfinite(laying.misfit_um) and laying.misfit_um > MISFIT_LIMIT_UM:
        quality |= Quality.MISFIT
    laid = LaidSheet(scan, paper, laying, blur, crossings)
    corners = read.frame.corners_px if read.frame is not None else _corners(laying, pictures)
    return LaidDown(laid, corners, quality)


def _check_size(laying: Laying, scan: Scan) -> None:
    """Refuse a sheet so much larger or smaller than the plate that its resolution must be wrong."""
    low, high = sorted((laying.stretch_x, laying.stretch_y))
    if low < 1 - STRETCH_LIMIT or high > 1 + STRETCH_LIMIT:
        width, height, limit = (100 * part for part in (laying.stretch_x, laying.stretch_y, STRETCH_LIMIT))
        msg = (
            f"{scan.file.path.name} shows the plate at {width:.1f} x {height:.1f} % of its size, but paper moves by "
            f"less than {limit:.0f} %: {scan.file.ppi_x:.0f} x {scan.file.ppi_y:.0f} ppi cannot be right; mend the "
            "resolution in the file, or give ppi in edition.toml"
        )
        raise LayingError(msg)


def _by_patches(read: ReadSheet, pictures: MatchPictures) -> tuple[Laying, Turn, bool]:
    """Return the laying by patches, its turn, and whether the plate mark led to it (else the whole picture did).

    Raises
    ------
    UnlikeError
        If neither leads to a likeness of the standard.
    """
    best, reason = 0.0, ""
    for start in (_from_mark, _from_picture):
        try:
            laying, turn = start(read, pictures)
        except LayingError as error:
            reason = str(error)
            continue
        laying, alike = refine(laying, read.scan.levels, read.paper.luminance, pictures)
        if alike >= LEAST_LIKENESS:
            return laying, turn, start is _from_mark
        best = max(best, alike)
        reason = (
            f"{read.scan.file.path.name} does not look like the standard (its patches correlate with {best:.2f}, at "
            f"least {LEAST_LIKENESS} is needed): it is blank or shows another plate; check the scan, or give the "
            "corners of the plate mark in pulls.csv"
        )
    raise UnlikeError(reason)


def _from_mark(read: ReadSheet, pictures: MatchPictures) -> tuple[Laying, Turn]:
    if read.frame is None:
        msg = f"no plate mark was found on {read.scan.file.path.name}"
        raise LayingError(msg)
    laying, turn, _ = from_frame(read.frame, read.scan.levels, read.paper.luminance, pictures)
    return laying, turn


def _from_picture(read: ReadSheet, pictures: MatchPictures) -> tuple[Laying, Turn]:
    if read.is_part:
        msg = f"of {read.scan.file.path.name} only the part within its plate mark was kept"
        raise LayingError(msg)
    if Quality.CORNERS_BY_HAND in read.quality:
        msg = f"the corners given for {read.scan.file.path.name} in pulls.csv do not fit the standard's plate"
        raise LayingError(msg)
    laying, turn, _ = from_picture(read.scan.file, read.scan.levels, read.paper.luminance, pictures)
    return laying, turn


def _paper_of(read: ReadSheet, laying: Laying, pictures: MatchPictures) -> tuple[Paper, Quality]:
    """Return the bare paper of a laid sheet; where the plate mark was not wholly found the laying tells the margin."""
    if read.frame is not None and Quality.PART_OF_PLATE_MARK not in read.quality:
        return read.paper, read.quality
    clearance = MARK_CLEARANCE_MM * px_per_mm(max(read.scan.file.ppi_x, read.scan.file.ppi_y))
    paper = find_paper(read.scan, _corners(laying, pictures), clearance_px=clearance, like=read.light)
    return paper, (read.quality & ~read.paper.quality) | paper.quality


def _corners(laying: Laying, pictures: MatchPictures) -> Points:
    w, h = pictures.width_mm, pictures.height_mm
    return to_sheet_px(laying, np.array([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]))


def finished(laying: Laying, scan: Scan, pictures: MatchPictures, turn: Turn) -> Laying:
    """Return the laying with its affine part split off and stretch, shear and turn read from it.

    The affine map in millimetres is ``M = turn · [[stretch_x, stretch_x · shear], [0, stretch_y]]``, mirrored before
    when the sheet is; lengths come from the resolution of the scan along x and y.
    """
    laying = split_affine(laying, pictures.width_mm, pictures.height_mm)
    to_mm = np.diag([1 / px_per_mm(scan.file.ppi_x), 1 / px_per_mm(scan.file.ppi_y)])
    m = to_mm @ laying.affine[:, :2]
    if turn.mirrored:
        m = m @ np.diag([-1.0, 1.0])
    stretch_x = float(np.hypot(m[0, 0], m[1, 0]))
    angle = float(np.arctan2(m[1, 0], m[0, 0]))
    cos, sin = np.cos(angle), np.sin(angle)
    rest = np.array([[cos, sin], [-sin, cos]]) @ m
    return replace(
        laying,
        stretch_x=stretch_x,
        stretch_y=float(abs(rest[1, 1])),
        shear=float(rest[0, 1] / rest[1, 1]),
        rotation_deg=float(-np.degrees(angle)),
        mirrored=turn.mirrored,
    )
