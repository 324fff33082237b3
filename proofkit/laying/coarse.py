"""Coarse to fine: where patches of the sheet lie against the standard's, each level less than a period."""

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats, Ink, Mask, Plane, Points
from proofkit.laying.rectify import Box, plate_box, rectify_coarse
from proofkit.laying.reference import PITCHES_MM, MatchPictures, encode_ink
from proofkit.laying.spline import fit_warp
from proofkit.laying.types import Laying

WINDOW_CELLS = 48
"""Side of a patch: long enough that a hand's irregular hatching tells one line from the next. [cells]"""

SEARCH_CELLS = (5, 3, 2, 2)
"""How far each level of `PITCHES_MM` looks: 2.0, 0.6, 0.2 and 0.1 mm, several times what the level before leaves
open. [cells]"""

ROUNDS = (3, 2, 2, 2)
"""Match and fit this often at each level: the second round starts where the first ended."""

OUTSIDE_SHARE = 0.02
"""A patch of which more lies outside the scan is not matched. [-]"""

FLAT_CODES = 3.0
"""A patch with less spread than this holds no line to match. [codes of ink]"""


@dataclass(frozen=True, slots=True, eq=False)
class Matches:
    """Offsets of patches."""

    points_mm: Points
    """(n, 2) middles of the patches. [mm]"""
    offsets: Points
    """(n, 2) sheet minus standard. [cells]"""
    weights: Floats
    """(n, 2, 2) curvature of the match: small along lines, large across. [-]"""
    likeness: Floats
    """(n,) normalised correlation at the best place. [-]"""


def _peak(score: npt.NDArray[np.float32]) -> tuple[float, float, Floats, float] | None:
    """Return offset x, y, curvature (2, 2) and height of the highest point of a score, None at the border."""
    row, column = np.unravel_index(int(np.argmax(score)), score.shape)
    if not (0 < row < score.shape[0] - 1 and 0 < column < score.shape[1] - 1):
        return None
    around = score[row - 1 : row + 2, column - 1 : column + 2].astype(np.float64)
    gx = (around[1, 2] - around[1, 0]) / 2
    gy = (around[2, 1] - around[0, 1]) / 2
    hxx = around[1, 2] - 2 * around[1, 1] + around[1, 0]
    hyy = around[2, 1] - 2 * around[1, 1] + around[0, 1]
    hxy = (around[2, 2] - around[2, 0] - around[0, 2] + around[0, 0]) / 4
    curvature = -np.array([[hxx, hxy], [hxy, hyy]])
    values, vectors = np.linalg.eigh(curvature)
    values = np.maximum(values, 1e-4)
    curvature = vectors @ np.diag(values) @ vectors.T
    shift = vectors @ np.diag(1 / values) @ vectors.T @ np.array([gx, gy])
    shift = np.clip(shift, -0.7, 0.7)
    centre = (np.array(score.shape) - 1) / 2
    return column + shift[0] - centre[1], row + shift[1] - centre[0], curvature, float(around[1, 1])


def match_patches(standard: Ink, sheet: Ink, outside: Mask, box: Box, search: int) -> Matches:
    """Return where patches of the standard are found on the rectified sheet.

    Parameters
    ----------
    standard, sheet : (h, w) uint8
        Pictures of ink on the cells of `box`.
    outside : (h, w) bool
        Cells that lie outside the scan.
    box : Box
    search : int
        Largest offset looked at. [cells]
    """
    h, w = standard.shape
    size = min(WINDOW_CELLS, h - 2 * search - 2, w - 2 * search - 2)
    stride = max(size // 2, 8)
    # Few patches say enough for a smooth field: at fine pitches take about 40 along each side.
    stride = max(stride, min(h, w) // 40)
    points, offsets, weights, likeness = [], [], [], []
    for top in _starts(h, size, stride, search):
        for left in _starts(w, size, stride, search):
            patch = standard[top : top + size, left : left + size]
            if float(cv2.meanStdDev(patch)[1][0, 0]) < FLAT_CODES:
                continue
            whole = np.s_[top - search : top + size + search, left - search : left + size + search]
            area = sheet[whole]
            if outside[whole].mean() > OUTSIDE_SHARE:
                continue
            if float(cv2.meanStdDev(area)[1][0, 0]) < 0.5:
                continue
            score = np.asarray(cv2.matchTemplate(area, patch, cv2.TM_CCOEFF_NORMED), dtype=np.float32)
            peak = _peak(score)
            if peak is None:
                continue
            dx, dy, curvature, height = peak
            points.append(
                (
                    box.x0_mm + (left + (size - 1) / 2) * box.pitch_mm,
                    box.y0_mm + (top + (size - 1) / 2) * box.pitch_mm,
                )
            )
            offsets.append((dx, dy))
            weights.append(curvature)
            likeness.append(height)
    return Matches(
        np.array(points).reshape(-1, 2),
        np.array(offsets).reshape(-1, 2),
        np.array(weights).reshape(-1, 2, 2),
        np.array(likeness),
    )


def _starts(length: int, size: int, stride: int, margin: int) -> list[int]:
    last = length - size - margin
    return [*range(margin, last, stride), last] if last > margin else [max(last, margin)]


def _cells_to_px(laying: Laying, offsets: Points, pitch_mm: float) -> Points:
    return np.asarray(offsets * pitch_mm @ laying.affine[:, :2].T)


def refine(laying: Laying, plane: Plane, paper: float, reference: MatchPictures) -> tuple[Laying, float]:
    """Return the laying refined through all levels, and how alike the patches are at the finest one.

    Parameters
    ----------
    laying : Laying
        Start, within about 2 mm.
    plane : Plane
        The sheet. [1/65535]
    paper : float
        Luminance of its bare paper. [-]
    reference : MatchPictures
        Of the standard.

    Returns
    -------
    Laying
    float
        Median normalised correlation of the patches at the finest pitch that the scan holds.
    """
    per_mm = float(np.sqrt(abs(np.linalg.det(laying.affine[:, :2]))))
    alike = 0.0
    for level, pitch in enumerate(PITCHES_MM):
        if pitch * per_mm < 0.7:
            break
        box = plate_box(reference.width_mm, reference.height_mm, pitch)
        for _ in range(ROUNDS[level]):
            picture = rectify_coarse(plane, laying, box)
            sheet, outside = encode_ink(picture, paper), np.isnan(picture)
            found = match_patches(reference.levels[level], sheet, outside, box, SEARCH_CELLS[level])
            if len(found.likeness) < 4:
                break
            alike = float(np.median(found.likeness))
            laying = _fit(laying, found, pitch, per_mm)
    return laying, alike


def _fit(laying: Laying, found: Matches, pitch_mm: float, per_mm: float) -> Laying:
    """Return the laying with its warp fitted to patch offsets."""
    trust = np.clip(found.likeness, 0.05, 1.0)
    # A match is good to about a tenth of a cell across lines; the curvature says how well each direction is held.
    strongest = np.maximum(np.linalg.eigvalsh(found.weights)[:, -1], 1e-6)
    sigma_px = 0.12 * pitch_mm * per_mm
    weights = found.weights / strongest[:, None, None] * (trust / sigma_px)[:, None, None] ** 2
    turned = laying.affine[:, :2] / per_mm
    weights = np.einsum("ab,nbc,dc->nad", turned, weights, turned)
    offsets_px = _cells_to_px(laying, found.offsets, pitch_mm)
    return fit_warp(laying, found.points_mm, offsets_px, weights, px_per_mm=per_mm)[0]
