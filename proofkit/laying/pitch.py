"""Is hatching matched line on line, or one line off? Every field is also tried a line further to both sides."""

from collections.abc import Iterator
from functools import lru_cache

import cv2
import numpy as np

from proofkit.arrays import Ink, Plane, Points
from proofkit.laying.matching_kernels import best_near
from proofkit.laying.rectify import ink_cells, plate_box
from proofkit.laying.reference import PITCHES_MM, MatchPictures
from proofkit.laying.standard_lines import StandardLines
from proofkit.laying.types import Laying

BLOCK_MM = 6.0
"""Side of the fields that are tried: some thirty lines of usual hatching, which a hand never spaces alike. [mm]"""

FEWEST_POINTS = 60

ALIGNED = 0.6
"""Share of a field's line points that run in its main direction, for it to be hatching. [-]"""

BETTER_BY = 0.02
"""A field is in doubt when a line further it correlates better by this much; rightly matched it is far worse. [-]"""


def doubtful_fields(
    laying: Laying, plane: Plane, paper: float, reference: MatchPictures, lines: StandardLines
) -> Points:
    """Return the middles of the fields of hatching that fit better when shifted by one line.

    Parameters
    ----------
    laying : Laying
        Of the sheet, after its last step.
    plane : Plane
        The sheet. [1/65535]
    paper : float
        Luminance of its bare paper. [-]
    reference, lines
        Of the standard.

    Returns
    -------
    Points
        (n, 2) middles of squares of 6 mm. [mm]
    """
    per_mm = laying.px_per_mm
    level = max(k for k, pitch in enumerate(PITCHES_MM) if k == 0 or pitch * per_mm >= 0.7)
    pitch = PITCHES_MM[level]
    box = plate_box(reference.width_mm, reference.height_mm, pitch)
    sheet, _ = ink_cells(plane, laying, box, paper)
    found = [
        middle
        for middle, step in fields_of_hatching(lines, (reference.width_mm, reference.height_mm))
        if _fits_better_beside(reference.levels[level], sheet, middle / pitch, step / pitch, BLOCK_MM / pitch)
    ]
    return np.array(found).reshape(-1, 2)


@lru_cache(maxsize=2)
def fields_of_hatching(
    lines: StandardLines, size_mm: tuple[float, float]
) -> tuple[tuple[Points, Points], ...]:
    """Return middle and step to the next line of each square that holds hatching, see `_fields`; once a standard."""
    return tuple(_fields(lines, size_mm))


def _fields(lines: StandardLines, size_mm: tuple[float, float]) -> Iterator[tuple[Points, Points]]:
    """Yield middle and step to the next line, both (2,) in mm, of each square that holds hatching."""
    columns, rows = (len(np.arange(0.0, side - BLOCK_MM / 2, BLOCK_MM)) for side in size_mm)
    at = np.floor(lines.lines.points_mm / BLOCK_MM).astype(np.intp)
    on_plate = (at >= 0).all(axis=1) & (at[:, 0] < columns) & (at[:, 1] < rows)
    hatched = np.flatnonzero(np.isfinite(lines.spacing_mm) & on_plate)
    square = at[hatched, 0] * rows + at[hatched, 1]
    in_order = hatched[np.argsort(square, kind="stable")]
    ends = np.cumsum(np.bincount(square, minlength=rows * columns))
    for number, inside in enumerate(np.split(in_order, ends[:-1])):
        if len(inside) < FEWEST_POINTS:
            continue
        nx, ny = lines.lines.normals[inside].T
        # Normals point either way; the doubled angle makes both the same.
        angle = np.arctan2(np.sum(2 * nx * ny), np.sum(nx * nx - ny * ny)) / 2
        normal = np.array([np.cos(angle), np.sin(angle)])
        along = np.abs(nx * normal[0] + ny * normal[1]) > 0.95
        if along.mean() < ALIGNED:
            continue
        spacing = float(np.median(lines.spacing_mm[inside][along]))
        middle = BLOCK_MM * (np.array(divmod(number, rows)) + 0.5)
        yield middle, spacing * normal


def _fits_better_beside(standard: Ink, sheet: Ink, middle: Points, step: Points, side: float) -> bool:
    """Return whether a square of the standard correlates better one step further; all lengths in cells."""
    half = int(side / 2)
    reach = int(np.ceil(np.abs(step).max())) + 2
    x, y = (round(float(v)) for v in middle)
    h, w = standard.shape
    left, top = max(x - half, reach), max(y - half, reach)
    right, bottom = min(x + half, w - reach), min(y + half, h - reach)
    if right - left < half or bottom - top < half:
        return False
    area = sheet[top - reach : bottom + reach, left - reach : right + reach]
    if float(cv2.meanStdDev(area)[1][0, 0]) < 0.5:
        return False
    place = (top, left, bottom - top, right - left)
    dx, dy = round(float(step[0])), round(float(step[1]))
    here = best_near(standard, sheet, *place, 0, 0)
    beside = max(best_near(standard, sheet, *place, dy, dx), best_near(standard, sheet, *place, -dy, -dx))
    return beside > here + BETTER_BY
