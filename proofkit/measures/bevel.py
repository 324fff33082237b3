"""Ink on the bevel."""

import numpy as np

from proofkit.arrays import Points
from proofkit.measures.types import LaidSheet
from proofkit.reflectance import paper_level
from proofkit.units import density

BEVEL_REACH_MM = 0.5


def bevel_ink(sheet: LaidSheet, corners_px: Points, film: float) -> float:
    """Return the density of ink along the plate mark above bare paper, the plate's own film taken off. [D]

    The darkest place of each profile across the mark, averaged along the four sides, minus `film`.
    """
    h, w = sheet.scan.plane.shape
    reach = BEVEL_REACH_MM * sheet.laying.px_per_mm
    steps = np.arange(-reach, reach + 0.5, 1.0)
    darkest = []
    for side in range(4):
        a, b = corners_px[side], corners_px[(side + 1) % 4]
        along = (b - a) / max(float(np.linalg.norm(b - a)), 1e-9)
        normal = np.array([-along[1], along[0]])
        places = a + np.linspace(0.05, 0.95, 200)[:, None] * (b - a)
        xy = places[:, None, :] + steps[None, :, None] * normal
        column, row = np.rint(xy[..., 0]).astype(np.intp), np.rint(xy[..., 1]).astype(np.intp)
        inside = ((column >= 0) & (column < w) & (row >= 0) & (row < h)).all(axis=1)
        if inside.sum() < 20:
            continue
        values = sheet.scan.plane[row[inside], column[inside]] / 65535.0
        level = paper_level(sheet.paper, places[inside, 0], places[inside, 1])
        profile = values / level[:, None]
        smooth = (profile[:, :-2] + profile[:, 1:-1] + profile[:, 2:]) / 3
        darkest.append(float(np.mean(density(np.maximum(smooth.min(axis=1), 1e-3)))))
    return float(np.mean(darkest)) - film if darkest else float("nan")
