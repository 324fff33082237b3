"""Lay a scan on the base by its line work alone: whatever its resolution, crop and turn, mirrored or not."""

from typing import NamedTuple

import cv2
import numpy as np

from proofkit.arrays import Floats, Ink, Points
from proofkit.errors import LayingError
from proofkit.laying.coarse import refine
from proofkit.laying.fine import fit_lines
from proofkit.laying.rectify import reduced
from proofkit.laying.reference import PITCHES_MM, MatchPictures, encode_ink
from proofkit.laying.spline import WARP_STEP_MM, control_shape
from proofkit.laying.standard_lines import StandardLines, read_crossings
from proofkit.laying.start import Turn
from proofkit.laying.types import Laying
from proofkit.lines.crossings import placed_among
from proofkit.measures.types import LaidSheet
from proofkit.sheet.laying_down import LEAST_LIKENESS, blur_of, finished, lay_down
from proofkit.sheet.reading import ReadSheet
from proofkit.sheet.types import Standard
from proofkit.states.likeness import likeness
from proofkit.states.types import Likeness
from proofkit.units import px_per_mm

MATCH_LEVEL = 2
"""Level of `PITCHES_MM` at which marks of the picture are matched: 0.1 mm, so that single strokes count, grain not."""

MOST_MARKS = 6000
"""Marks looked for in each picture: the strongest ones."""

RATIO = 0.8
"""A mark is matched when its nearest likeness is this much nearer than the second (D. Lowe, Distinctive image features
from scale-invariant keypoints, 2004, section 7.1: 0.8 removes 90 % of false matches and 5 % of true ones). [-]"""

RANSAC_CELLS = 6.0
"""How far a matched mark may lie from the affine map: paper stretches unevenly by up to 0.2 mm, and a coarse scan
blurs. [cells of 0.1 mm]"""

LEAST_MARKS = 12
"""Fewer marks on one affine map may be chance: of 6000 marks some 5 agree on two plates of a kind (simulated)."""

SCALES = (0.2, 5.0)
"""Least and largest size of a scan against the size its resolution gives, when the resolution may be wrong. [-]"""


class _Place(NamedTuple):
    affine: Floats
    mirrored: bool
    marks: int


def lay_on_base(read: ReadSheet, standard: Standard) -> tuple[LaidSheet, Likeness, bool]:
    """Lay a sheet on the base and tell whether it shows the same plate.

    Parameters
    ----------
    read : ReadSheet
    standard : Standard
        The base.

    Returns
    -------
    (LaidSheet, Likeness, bool)
        The last one is true where it was laid by its line work alone.

    Raises
    ------
    LayingError
        If the line work is not found on the sheet.

    Notes
    -----
    A coarse scan without its plate mark can be laid wrongly by its tones, and then looks like a copy: what looks like
    one is laid by its lines as well before that is believed.
    """
    by_tone: tuple[LaidSheet, Likeness] | None = None
    try:
        sheet = lay_down(read, standard.pictures, standard.lines, standard.read, standard.edges).laid
        by_tone = sheet, likeness(sheet, standard.lines)
        if by_tone[1].same_plate:
            return (*by_tone, False)
    except LayingError:
        pass
    try:
        sheet = place_by_lines(read, standard.pictures, standard.lines)
    except LayingError:
        if by_tone is None:
            raise
        return (*by_tone, False)
    alike = likeness(sheet, standard.lines)
    if by_tone is not None and not alike.same_plate:
        return (*by_tone, False)
    return sheet, alike, True


def place_by_lines(read: ReadSheet, pictures: MatchPictures, lines: StandardLines) -> LaidSheet:
    """Lay a sheet on the base by what is drawn on it.

    Parameters
    ----------
    read : ReadSheet
        Its plate mark, if any, is not used.
    pictures, lines
        Of the base.

    Raises
    ------
    LayingError
        If the line work is not found on the sheet.

    Notes
    -----
    Marks that keep their look when turned and scaled are matched between both pictures, as they are and mirrored, and
    the affine map on which most agree starts the usual refinement by patches and lines.
    """
    name = read.scan.file.path.name
    place = max(
        (_place(read, pictures, mirrored=mirrored) for mirrored in (False, True)), key=lambda p: p.marks
    )
    if place.marks < LEAST_MARKS:
        raise LayingError(
            f"{name} does not show the line work of the other state ({place.marks} marks of the picture agree, at "
            f"least {LEAST_MARKS} are needed): not the same plate, no overlap, or a blank sheet"
        )
    rows, columns = control_shape(pictures.width_mm, pictures.height_mm, WARP_STEP_MM)
    start = Laying(
        place.affine, np.zeros((rows, columns, 2)), WARP_STEP_MM, 1.0, 1.0, 0.0, 0.0, place.mirrored, 0.0
    )
    plane, paper = read.scan.plane, read.paper
    laying, alike = refine(start, read.scan.levels, paper.luminance, pictures)
    if alike < LEAST_LIKENESS:
        raise LayingError(
            f"{name} shows a like picture, but other strokes (patches correlate with {alike:.2f}, at least "
            f"{LEAST_LIKENESS} is needed): not the same plate"
        )
    blur = max(blur_of(read.scan), _blur_of_map(laying))
    if lines.lines.size:
        laying = fit_lines(laying, plane, paper, lines, blur).laying
    laying = finished(laying, read.scan, pictures, Turn(0, place.mirrored))
    reach = np.minimum(0.05, 0.3 * lines.spacing_mm)
    values = read_crossings(plane, paper, laying, lines.places, blur, reach)
    placed = placed_among(values, np.arange(lines.lines.size), lines.lines.size)
    return LaidSheet(read.scan, paper, laying, blur, placed)


def _blur_of_map(laying: Laying) -> float:
    """Return the blur of a pixel by the size that the line work itself has in the scan. [mm]"""
    per_mm = laying.px_per_mm
    return float(1 / (per_mm * np.sqrt(12)))


def _place(read: ReadSheet, pictures: MatchPictures, *, mirrored: bool) -> _Place:
    """Return the affine map, plate mm to sheet px, on which most marks agree."""
    base = pictures.levels[MATCH_LEVEL]
    pitch = PITCHES_MM[MATCH_LEVEL]
    per_mm = px_per_mm(float(np.sqrt(read.scan.file.ppi_x * read.scan.file.ppi_y)))
    small = reduced(read.scan.plane, max(round(pitch * per_mm), 1))
    fx, fy = read.scan.plane.shape[1] / small.shape[1], read.scan.plane.shape[0] / small.shape[0]
    sheet = encode_ink(small.astype(np.float32) / np.float32(65535), read.paper.luminance)
    if mirrored:
        sheet = np.ascontiguousarray(sheet[:, ::-1])
    here, there = _matched(base, sheet)
    if len(here) < LEAST_MARKS:
        return _Place(np.zeros((2, 3)), mirrored, 0)
    cv2.setRNGSeed(1)  # the same marks give the same map
    found, agree = cv2.estimateAffine2D(
        here, there, method=cv2.RANSAC, ransacReprojThreshold=RANSAC_CELLS, maxIters=20000, confidence=0.9999
    )
    affine = np.zeros((2, 3)) if found is None else np.asarray(found, dtype=np.float64)
    if not _is_plausible(affine[:, :2]):
        return _Place(np.zeros((2, 3)), mirrored, 0)
    if mirrored:
        affine = np.array([[-1.0, 0.0], [0.0, 1.0]]) @ affine + [[0, 0, sheet.shape[1] - 1.0], [0, 0, 0]]
    # Cells of the small picture to px of the scan; cells of the base to plate mm.
    scaled = np.diag([fx, fy]) @ affine
    scaled[:, 2] += [(fx - 1) / 2, (fy - 1) / 2]
    scaled[:, :2] /= pitch
    return _Place(scaled, mirrored, int(agree.sum()))


def _is_plausible(linear: Floats) -> bool:
    """Return whether a map keeps handedness and shape, as two scans of one plate do."""
    sizes = np.linalg.svd(linear, compute_uv=False)
    upright = float(np.linalg.det(linear)) > 0
    return bool(upright and sizes[0] < 1.25 * sizes[1] and SCALES[0] < sizes[1] and sizes[0] < SCALES[1])


def _matched(base: Ink, sheet: Ink) -> tuple[Points, Points]:
    """Return places of marks in both pictures that look like each other and like nothing else. [cells]"""
    finder = cv2.SIFT.create(nfeatures=MOST_MARKS, contrastThreshold=0.02)
    places_a, looks_a = finder.detectAndCompute(base, None)
    places_b, looks_b = finder.detectAndCompute(sheet, None)
    none = np.empty((0, 2))
    if looks_a is None or looks_b is None or len(places_b) < 2:
        return none, none
    pairs = cv2.BFMatcher(cv2.NORM_L2).knnMatch(looks_a, looks_b, k=2)
    good = [p[0] for p in pairs if len(p) == 2 and p[0].distance < RATIO * p[1].distance]
    if not good:
        return none, none
    return (
        np.array([places_a[m.queryIdx].pt for m in good]),
        np.array([places_b[m.trainIdx].pt for m in good]),
    )
