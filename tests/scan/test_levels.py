"""Levels of a plane are means over its blocks."""

import cv2
import numpy as np
import pytest

from proofkit.scan.levels import SMALLEST, halved, levels_of


def plane_of(shape, seed=3):
    return np.random.default_rng(seed).integers(0, 65536, shape).astype(np.uint16)


def test_levels_are_means_over_blocks_as_the_library_makes_them():
    plane = plane_of((256, 512))
    levels = levels_of(plane)
    assert levels[0] is plane
    assert [level.shape for level in levels] == [(256 >> k, 512 >> k) for k in range(4)]
    for k, level in enumerate(levels):
        # A half is rounded up at every level: at most so many units, half a unit on average.
        wanted = cv2.resize(plane.astype(np.float64), level.shape[::-1], interpolation=cv2.INTER_AREA)
        assert level == pytest.approx(wanted, abs=k + 1e-9)
        assert abs(np.mean(level - wanted)) < 0.2 * k + 1e-9


def test_an_odd_row_or_column_at_the_end_is_left_out():
    plane = plane_of((2 * SMALLEST + 1, 2 * SMALLEST + 3))
    levels = levels_of(plane)
    assert levels[1].shape == (SMALLEST, SMALLEST + 1)
    assert (levels[1] == halved(plane[:-1, :-1].copy())).all()


def test_small_planes_are_not_reduced_and_white_stays_white():
    assert len(levels_of(plane_of((2 * SMALLEST - 1, 500)))) == 1
    assert (levels_of(np.full((300, 300), 65535, np.uint16))[-1] == 65535).all()


def test_a_transposed_plane_is_reduced_as_well():
    plane = plane_of((130, 90))
    assert (levels_of(plane.T)[1] == levels_of(plane)[1].T).all()
