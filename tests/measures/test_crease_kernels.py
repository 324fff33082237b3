"""Maps of lost ink against the same formulas on whole float pictures, the ground spread by OpenCV."""

import cv2
import numpy as np
import pytest

from proofkit.arrays import INK_ZERO
from proofkit.measures.crease_kernels import changes, ground_at, lines_and_open, lost_cells, spread_ground

SHAPE = (130, 211)


@pytest.fixture(scope="module")
def pictures():
    """A standard with lines and open ground; a sheet that lost some of both and is darker in one corner."""
    rng = np.random.default_rng(7)
    standard = (45 + 6 * rng.random(SHAPE)).astype(np.uint8)
    standard[:, ::9] = 150
    sheet = (standard + 8 * rng.random(SHAPE)).astype(np.uint8)
    sheet[60:64] = 31
    sheet[:40, :60] += 40
    there, here = (40 + 10 * rng.random((4, 6)) for _ in range(2))
    here[0, 0] = 85.0
    return sheet, standard, here, there


def spread_by_opencv(blocks):
    return cv2.resize(blocks, SHAPE[::-1], interpolation=cv2.INTER_LINEAR)


def test_ground_is_spread_as_opencv_does(pictures):
    blocks = pictures[2]
    ground = spread_ground(blocks, SHAPE)
    wanted = spread_by_opencv(blocks)
    for r, c in [(0, 0), (129, 210), (17, 40), (66, 105), (129, 0)]:
        assert ground_at(ground, r, c) == pytest.approx(wanted[r, c], abs=1e-3)


@pytest.mark.parametrize("limit", [6.0, 12.0])
def test_cells_lost(pictures, limit):
    sheet, standard, here, there = pictures
    below, above = spread_ground(there, SHAPE), spread_ground(here, SHAPE)
    line, is_open = lines_and_open(standard, below, 25.0, 8.0)
    was = standard - spread_by_opencv(there)
    own = np.minimum(spread_by_opencv(here), spread_by_opencv(there))
    left = sheet - own
    assert (line == (was > 25)).all()
    assert (is_open == (np.abs(was) < 8)).mean() > 0.999
    bare, known = lost_cells(sheet, standard, above, below, line, is_open, 0.4, limit)
    wanted = (line & (left < 0.4 * was)) | (is_open & (left - was < -limit))
    assert (bare == wanted).mean() > 0.999
    assert wanted.mean() > 0.005
    assert (known == (line | wanted | (is_open & (own - INK_ZERO > limit)))).mean() > 0.999
    told = changes(sheet, standard, above, below, is_open, 3)
    assert told == pytest.approx((left - was)[::3][is_open[::3]], abs=1e-3)
