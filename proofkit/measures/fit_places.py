"""Where on a sheet the crossings lie that are fitted, and which pixels tell of each."""

from dataclasses import dataclass, fields

import numpy as np

from proofkit.arrays import FULL_SCALE, Floats, Index, Mask, Points
from proofkit.laying.standard_lines import StandardLines
from proofkit.laying.types import to_sheet_px
from proofkit.measures.line_neighbours import neighbour_distances
from proofkit.measures.types import LaidSheet
from proofkit.reflectance import paper_level

CLEAR_SIGMAS = 3.2
"""Pixels are used up to this many blur sigmas from the edge of a line that stands alone, and `STRIP_MM` more."""

STRIP_MM = 0.06
"""Strip of ground beside a line that holds its level. [mm]"""

ALONG_PX = (0.5, 1.0)
"""Pixels are used up to this far to both sides along the line: one or two rows of them carry a crossing. [px]"""

ALONG_SHARE = 0.3
"""... and about so much of the way to a line that crosses. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class FitPlaces:
    """Where and with what crossings of a sheet are fitted; arrays run over the crossings asked for."""

    centres: Points
    across: Points
    along: Points
    level: Floats
    window: Points
    half_along: Floats
    """(n,) how far to both sides along the line pixels are used. [px]"""
    neighbours: Floats
    """(n, 4) distance [mm] and width as a share of the line's own, of both neighbours."""


def part_of(places: FitPlaces, index: Index | slice) -> FitPlaces:
    """Return some of the places."""
    return FitPlaces(**{field.name: getattr(places, field.name)[index] for field in fields(FitPlaces)})


def fit_places(
    sheet: LaidSheet, lines: StandardLines, index: Index, blur_mm: float, drypoint: Mask
) -> FitPlaces:
    """Return where the crossings `index` lie on a sheet, and which pixels tell of each; `drypoint` is of all lines."""
    points, normals = lines.lines.points_mm[index], lines.lines.normals[index]
    tangents = np.column_stack((-normals[:, 1], normals[:, 0]))
    centres = to_sheet_px(sheet.laying, points)
    along = _step(sheet, points, tangents)
    along = along / np.maximum(np.linalg.norm(along, axis=1), 1e-9)[:, None]
    width = lines.spans.width_mm[index]
    side, share = (found[index] for found in neighbour_distances(lines))
    alone = width / 2 + CLEAR_SIGMAS * blur_mm + STRIP_MM
    spans = np.maximum(lines.spans.left_mm[index], lines.spans.right_mm[index])
    alone = np.where(drypoint[index], alone, np.maximum(alone, spans + STRIP_MM))
    # A neighbour matters when its blur reaches the strip of ground; then the window ends at its middle.
    reach = alone[:, None] + width[:, None] * share / 2 + CLEAR_SIGMAS * blur_mm
    distance = np.where(side < reach, side, np.inf)
    window = np.minimum(np.where(np.isfinite(distance), distance, np.inf), alone[:, None])
    near = np.isfinite(distance) & (distance < alone[:, None] + width[:, None] * share / 2)
    window = np.where(near, distance, window) * (-1.0, 1.0)
    return FitPlaces(
        centres=centres,
        across=_step(sheet, points, lines.across_mm[index]),
        along=along,
        level=paper_level(sheet.paper, centres[:, 0], centres[:, 1]) * FULL_SCALE,
        window=window,
        half_along=half_along_mm(lines.apart_mm[index], pixel_mm(sheet)) / pixel_mm(sheet),
        neighbours=np.column_stack((distance, share)),
    )


def pixel_mm(sheet: LaidSheet) -> float:
    """Return the side of a pixel of a sheet's scan. [plate mm]"""
    return 1 / sheet.laying.px_per_mm


def half_along_mm(apart_mm: Floats, px_mm: float) -> Floats:
    """Return how far to both sides along its line a crossing takes pixels from, by the way to a line over it. [mm]"""
    return np.clip(ALONG_SHARE * apart_mm, ALONG_PX[0] * px_mm, ALONG_PX[1] * px_mm)


def _step(sheet: LaidSheet, points_mm: Points, direction: Points) -> Points:
    """Return what one plate millimetre along a direction is in the scan. [px/mm]"""
    h = 0.1
    ahead = to_sheet_px(sheet.laying, points_mm + h * direction)
    return np.asarray((ahead - to_sheet_px(sheet.laying, points_mm - h * direction)) / (2 * h))
