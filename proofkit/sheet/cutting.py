"""Let go of a sheet's margin once its paper is known: nothing of it is looked at any more, and it is much memory."""

from dataclasses import dataclass, replace

import numpy as np

from proofkit.arrays import Points
from proofkit.frame.types import PlateFrame
from proofkit.laying.types import Laying, to_sheet_px
from proofkit.quality import Quality
from proofkit.reflectance.types import Paper
from proofkit.scan.cutting import cut_out
from proofkit.sheet.reading import ReadSheet
from proofkit.units import px_per_mm

KEPT_MM = 6.0
"""What is kept beside the plate mark: more than a mark lies from where the plate is found to lie. [mm]"""

LEAST_MM = 2.0
"""What has to be left of it beside the laid plate: bevel ink is looked for to 0.5 mm, edges of patches to 1. [mm]"""


@dataclass(frozen=True, slots=True, eq=False)
class PlatePart:
    """The part of a sheet that holds the plate."""

    read: ReadSheet
    """With all places told from the part's own first pixel."""
    origin_px: tuple[int, int]
    """That pixel in the scan, x and y. [px]"""
    ends: tuple[bool, bool, bool, bool]
    """Whether the part ends where the scan does: at its left, top, right and bottom."""


def cut_to_plate(read: ReadSheet) -> PlatePart | None:
    """Return the part of a sheet within its plate mark and a little more; the sheet given is of no use afterwards.

    None, and the sheet is left as it is, where not all of the mark was found on the scan: the plate may reach beyond.
    """
    if read.frame is None or read.frame.quality != Quality.NONE:
        return None
    file = read.scan.file
    reach = np.array([KEPT_MM * px_per_mm(file.ppi_x), KEPT_MM * px_per_mm(file.ppi_y)])
    low = np.floor(read.frame.corners_px.min(axis=0) - reach).astype(int)
    high = np.ceil(read.frame.corners_px.max(axis=0) + reach).astype(int)
    h, w = read.scan.plane.shape
    scan, (x0, y0) = cut_out(read.scan, (int(low[0]), int(low[1]), int(high[0]), int(high[1])))
    ends = (x0 == 0, y0 == 0, bool(high[0] >= w), bool(high[1] >= h))
    part = replace(
        read,
        scan=scan,
        frame=_moved_frame(read.frame, np.array([-x0, -y0])),
        paper=moved_paper(read.paper, (-x0, -y0)),
        is_part=True,
    )
    return PlatePart(part, (x0, y0), ends)


def holds_plate(part: PlatePart, laying: Laying, size_mm: tuple[float, float]) -> bool:
    """Return whether a part holds all of the plate as it was laid, and `LEAST_MM` beside it where the scan does."""
    w, h = size_mm
    corners = to_sheet_px(laying, np.array([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]))
    rows, columns = part.read.scan.plane.shape
    least = LEAST_MM * laying.px_per_mm
    left, top, right, bottom = part.ends
    x, y = corners.T
    return bool(
        (left or x.min() > least)
        and (top or y.min() > least)
        and (right or x.max() < columns - least)
        and (bottom or y.max() < rows - least)
    )


def moved_laying(laying: Laying, by_px: tuple[int, int]) -> Laying:
    """Return a laying told from another first pixel."""
    affine = laying.affine.copy()
    affine[:, 2] += by_px
    return replace(laying, affine=affine)


def moved_paper(paper: Paper, by_px: tuple[int, int]) -> Paper:
    """Return a paper told from another first pixel."""
    return replace(paper, x0_px=paper.x0_px + by_px[0], y0_px=paper.y0_px + by_px[1])


def _moved_frame(frame: PlateFrame, by_px: Points) -> PlateFrame:
    marks = tuple(replace(mark, points_px=mark.points_px + by_px) for mark in frame.marks)
    return replace(frame, corners_px=frame.corners_px + by_px, marks=marks)
