"""Ink of a sheet as bytes: level, softening and places are what they say, whatever is read at a time."""

import cv2
import numpy as np
import pytest
from scipy.ndimage import map_coordinates

from proofkit.arrays import INK_SCALE, INK_ZERO
from proofkit.laying import rectify as module
from proofkit.laying.ink import ink_cells, ink_windows, level_of_cells, windows_of
from proofkit.laying.ink_kernels import softened
from proofkit.laying.rectify import plate_box
from proofkit.laying.reference import encode_ink
from proofkit.scan.levels import levels_of
from tests.laying.test_rectify import PER_MM, grain, shifted

PAPER = 0.8


def test_softening_is_that_of_the_library_whatever_part_is_asked_for():
    plane = grain((60, 75))
    weights = np.array([1, 6, 1]) / 8
    wanted = cv2.sepFilter2D(
        plane.astype(np.float64), cv2.CV_64F, weights, weights, borderType=cv2.BORDER_REPLICATE
    )
    assert softened(plane, 0, 60, 0, 75) == pytest.approx(wanted, abs=0.5 + 1e-9)
    for top, bottom, left, right in ((0, 60, 10, 40), (5, 33, 0, 75), (58, 60, 70, 75)):
        part = softened(plane, top, bottom, left, right)
        assert (part == softened(plane, 0, 60, 0, 75)[top:bottom, left:right]).all()


@pytest.mark.parametrize(("pitch", "factor"), [(0.05, 1), (0.1, 2), (0.2, 4), (0.31, 4), (0.4, 8)])
def test_codes_are_those_of_the_level_softened_and_read_linearly(pitch, factor):
    """Against OpenCV and SciPy on the whole plane; cells of 0.88, 1.77, 3.5, 5.5 and 7.1 px."""
    plane = grain((420, 480))
    levels = levels_of(plane)
    laying = shifted(31.3, 22.8)
    assert level_of_cells(levels, pitch * PER_MM).factor == factor
    box = plate_box(14.0, 13.0, pitch)
    small = levels[factor.bit_length() - 1].astype(np.float64)
    weights = np.array([1, 6, 1]) / 8
    soft = cv2.sepFilter2D(small, cv2.CV_64F, weights, weights, borderType=cv2.BORDER_REPLICATE)
    x = (np.arange(box.columns) * pitch * PER_MM + 31.3 + 0.5) / factor - 0.5
    y = (np.arange(box.rows) * pitch * PER_MM + 22.8 + 0.5) / factor - 0.5
    light = map_coordinates(soft, np.meshgrid(y, x, indexing="ij"), order=1, mode="nearest") / 65535
    ink, outside = ink_cells(levels, laying, box, PAPER)
    assert not outside.size
    assert np.abs(ink.astype(int) - encode_ink(light.astype(np.float32), PAPER)).max() <= 1
    assert np.mean(ink == encode_ink(light.astype(np.float32), PAPER)) > 0.99


def test_hatching_finer_than_two_cells_averages_to_its_tone():
    """Lines of 3 px period at cells of 7.1 px: no false bands, the mean is that of the lines."""
    plane = np.where(np.arange(420) % 3 == 0, 6000, 48_000).astype(np.uint16) * np.ones((420, 1), np.uint16)
    ink, _ = ink_cells(levels_of(plane), shifted(0.0, 0.0), plate_box(15.0, 15.0, 0.4), PAPER)
    inner = ink[5:-5, 5:-5].astype(float)
    tone = INK_ZERO + INK_SCALE * (1 - 34_000 / 65535 / PAPER)
    assert np.mean(inner) == pytest.approx(tone, abs=1.0)
    assert np.std(inner) < 0.03 * INK_SCALE


def test_what_lies_outside_the_scan_is_bare_and_told(monkeypatch):
    plane = grain((420, 480)) // 2
    box = plate_box(30.0, 13.0, 0.1)
    ink, outside = ink_cells(levels_of(plane), shifted(31.3, 22.8), box, PAPER)
    last = int((479.5 - 31.3) / PER_MM / 0.1)
    assert (outside == (np.arange(box.columns) > last)[None, :]).all()
    assert (ink[outside] == INK_ZERO).all()
    monkeypatch.setattr(module, "TILE_NODES", (1, 2))
    again, outside_again = ink_cells(levels_of(plane), shifted(31.3, 22.8), box, PAPER)
    assert (again == ink).all()
    assert (outside_again == outside).all()


@pytest.mark.parametrize("every", [1, 4])
def test_windows_show_what_the_whole_picture_shows_there(every):
    levels, laying, side = levels_of(grain((420, 480))), shifted(31.3, 22.8), 40
    box = plate_box(30.0, 13.0, 0.1)
    whole, outside = ink_cells(levels, laying, box, PAPER)
    corners = np.array([(0, 0), (61, 17), (90, 200), (3, 260)])
    windows, beyond = ink_windows(levels, laying, box, PAPER, corners, side, every=every)
    for (top, left), window, share in zip(corners, windows, beyond, strict=True):
        there = np.s_[top : top + side : every, left : left + side]
        assert np.abs(window.astype(int) - whole[there]).max() <= 1
        assert share == pytest.approx(outside[there].mean(), abs=1e-12)
    if every == 1:
        cut, cut_beyond = windows_of(whole, outside, corners, side)
        assert (cut == np.array([whole[r : r + side, c : c + side] for r, c in corners])).all()
        assert cut_beyond == pytest.approx(beyond, abs=1e-12)
    assert beyond[0] == 0
    assert 0 < beyond[2] < 1
    assert beyond[3] == 1
