"""A part of a scan holds what the whole held there."""

import numpy as np
import pytest

from proofkit.scan.cutting import LEVELS_KEPT, cut_out
from proofkit.scan.levels import levels_of
from proofkit.scan.types import Scan

STEP = 6
ALIKE = 48
"""Whole blocks of 6 and of 16 px."""


def scan_of(shape, seed=1):
    """Any plane with any overview of its size."""
    rng = np.random.default_rng(seed)
    plane = rng.integers(0, 65536, shape).astype(np.uint16)
    overview = rng.random((-(-shape[0] // STEP), -(-shape[1] // STEP), 3)).astype(np.float32)
    return Scan(None, plane, overview, STEP, "linear")


@pytest.mark.parametrize("box", [(50, 100, 300, 401), (0, 0, 7, 5), (-20, 130, 900, 900), (47, 48, 96, 97)])
def test_a_part_holds_what_the_whole_held_there(box):
    whole = scan_of((500, 700))
    plane, overview = whole.plane.copy(), whole.overview.copy()
    part, (x0, y0) = cut_out(whole, box)
    assert (x0, y0) == (max(box[0], 0) // ALIKE * ALIKE, max(box[1], 0) // ALIKE * ALIKE)
    x1, y1 = min(box[2], 700), min(box[3], 500)
    assert np.array_equal(part.plane, plane[y0:y1, x0:x1])
    assert part.plane.flags.c_contiguous
    assert np.array_equal(part.overview, overview[y0 // STEP : -(-y1 // STEP), x0 // STEP : -(-x1 // STEP)])


def test_levels_of_a_part_are_those_of_the_whole():
    whole = scan_of((900, 1000))
    levels = levels_of(whole.plane.copy())
    part, (x0, y0) = cut_out(whole, (100, 200, 1000, 900))
    for k in range(LEVELS_KEPT + 1):
        there = levels[k][y0 >> k :, x0 >> k :]
        assert np.array_equal(part.levels[k], there)


def test_a_plane_that_is_not_the_scans_own_is_left_as_it_is():
    held = np.arange(400 * 300, dtype=np.uint32).astype(np.uint16).reshape(400, 300)
    before = held.copy()
    part, (x0, y0) = cut_out(
        Scan(None, held[:, :], np.zeros((67, 50, 3), np.float32), STEP, "linear"), (60, 60, 200, 200)
    )
    assert np.array_equal(held, before)
    assert np.array_equal(part.plane, before[y0:200, x0:200])


def test_a_box_beside_the_scan_is_refused():
    with pytest.raises(ValueError, match="has nothing in the box"):
        cut_out(scan_of((100, 100)), (200, 0, 300, 100))
