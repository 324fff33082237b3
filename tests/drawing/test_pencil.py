"""Faint pencil on the tooth of paper: a line whose place is known, grain by formula."""

import cv2
import numpy as np
import pytest
import tifffile
from scipy.spatial import cKDTree

from proofkit.compare.inputs import choose_side
from proofkit.drawing.pencil import find_pencil_lines
from proofkit.sheet.reading import read_sheet

PX_PER_MM = 300 / 25.4


def found(folder, density, seed):
    """Lines found on a sheet of 60 x 50 mm with an arc of faint pencil, its course, and a firm line."""
    rng = np.random.default_rng(seed)
    w, h = round(60 * PX_PER_MM), round(50 * PX_PER_MM)
    # Tooth of 0.06 mm that takes 1.2 % of the light, and noise of the scanner.
    tooth = cv2.GaussianBlur(rng.standard_normal((h, w)), (0, 0), 0.06 * PX_PER_MM)
    light = 0.82 * (1 + 0.012 * tooth / tooth.std())
    turn = np.linspace(0.3, 1.9, 800)
    arc = np.column_stack((10 + 22 * np.cos(turn), 10 + 22 * np.sin(turn)))
    firm = np.column_stack((np.linspace(35, 55, 500), np.full(500, 8.0)))
    for course, dark in ((arc, density), (firm, 0.3)):
        line = np.zeros((h, w))
        course_px = np.rint(16 * course * PX_PER_MM).astype(np.int32)
        cv2.polylines(
            line, [course_px], isClosed=False, color=1.0, thickness=5, lineType=cv2.LINE_AA, shift=4
        )
        light *= np.power(10.0, -dark * cv2.GaussianBlur(line, (0, 0), 0.05 * PX_PER_MM))
    light += rng.normal(0, 0.004, light.shape)
    codes = np.clip(255 * np.clip(light, 0, 1) ** (1 / 2.2) + 0.5, 0, 255).astype(np.uint8)
    tifffile.imwrite(folder / "drawing.tif", codes, resolution=(300, 300), resolutionunit="INCH")
    side = choose_side("A", folder / "drawing.tif")
    read = read_sheet(side.pulls[0].edition, side.pulls[0].pull)
    return find_pencil_lines(read.scan, read.paper), arc, firm


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_faint_pencil_is_found_and_grain_is_not(tmp_path, seed):
    # 0.012 D takes 2.7 % of the light, a little over twice the scatter of the tooth.
    lines, arc, firm = found(tmp_path, 0.012, seed)
    away = cKDTree(np.concatenate((arc, firm))).query(lines.points_mm)[0]
    assert (cKDTree(lines.points_mm).query(arc)[0] < 0.3).mean() > 0.9
    assert lines.length_mm[away > 0.3].sum() < 3.0
