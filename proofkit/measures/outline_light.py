"""Mean light of a sheet inside an outline of the plate."""

import numpy as np
from shapely import segmentize
from shapely.geometry import Polygon

from proofkit.arrays import FULL_SCALE
from proofkit.laying.types import Laying, to_sheet_px
from proofkit.lines.profiles import surface_of
from proofkit.measures.outline_kernels import light_inside, outline_pieces
from proofkit.reflectance.types import Paper
from proofkit.scan.types import Scan

STRAIGHT_MM = 1.0
"""Over so much of a side the sheet lies straight: it bends by less than 0.1 mm in 10 mm. [mm]"""


def mean_inside(scan: Scan, paper: Paper, laying: Laying, outline_mm: Polygon) -> float:
    """Return the mean of R/Rp over an outline as it lies on the scan; NaN where none of it does. [-]

    Pixels on the outline count by the part that lies inside. Of the pixels nearest to cells of the plate some are taken
    twice and some not at all, as the sheet happens to lie: over 3 mm of lines a millimetre apart that moves the mean by
    up to 0.003 (drawn patches).
    """
    parts = []
    for number, ring in enumerate((outline_mm.exterior, *outline_mm.interiors)):
        # The middle of the first pixel is at 0, its border half a pixel before.
        px = to_sheet_px(laying, np.asarray(segmentize(ring, STRAIGHT_MM).coords)[:, :2]) + 0.5
        x, y = (px - px[0]).T
        turn = 1.0 if x[:-1] @ y[1:] > x[1:] @ y[:-1] else -1.0
        parts.append(outline_pieces(px, turn if number == 0 else -turn))
    row, column, down, into = (np.concatenate(of_rings) for of_rings in zip(*parts, strict=True))
    pieces = row, column, down, into
    total, area = light_inside(scan.plane, surface_of(paper), np.lexsort((column, row)), pieces)
    return total / area / FULL_SCALE if area > 0 else float("nan")
