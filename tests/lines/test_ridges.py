"""Filters and tiles of the ridge finder beside OpenCV's direct filtering, and the same by any number of threads."""

import cv2
import numpy as np
import pytest

from proofkit.lines import ridges
from proofkit.lines.ridges import find_ridges
from proofkit.threads import threads_limited
from tests.lines.drawn import hatching, ink_picture

PITCH = 0.03
SIGMA = 0.022


@pytest.mark.parametrize("shape", [(150, 201), (64, 37), (40, 300)])
def test_all_filters_by_one_transform_answer_as_direct_filtering_does(shape):
    picture = (255 * np.random.default_rng(5).random(shape)).astype(np.float32)
    answers = list(ridges._filtered(picture))
    assert len(answers) == ridges.DIRECTIONS
    for answer, kernel in zip(answers, ridges._filters(), strict=True):
        direct = cv2.filter2D(picture.astype(np.float64), cv2.CV_64F, kernel, borderType=cv2.BORDER_REFLECT)
        assert np.abs(answer - direct).max() < 2e-4  # of 255; 32-bit floats hold 2e-5 of it


@pytest.fixture(scope="module")
def ink():
    """Cross-hatching of broad and fine lines over the whole of a picture whose sides are multiples of four pixels."""
    strokes = [
        hatching(angle, spacing, width, middle=(10.0, 8.0), length=60.0, lines=60)
        for angle, spacing, width in ((20, 0.9, 0.3), (75, 1.1, 0.06))
    ]
    picture = ink_picture(np.vstack(strokes), (20.0, 16.0), PITCH, SIGMA)
    return np.ascontiguousarray(picture[: picture.shape[0] // 4 * 4, : picture.shape[1] // 4 * 4])


def test_ridges_do_not_depend_on_the_number_of_threads(ink):
    found = []
    for most in (1, 2, 3):
        with threads_limited(most):
            found.append(np.column_stack(find_ridges(ink, 4.0)))
    assert len(found[0]) > 5000
    assert np.array_equal(found[0], found[1])
    assert np.array_equal(found[0], found[2])


def test_ridges_do_not_depend_on_the_tiles(ink, monkeypatch):
    """Of a picture in 2 x 2 tiles and in one; what differs is rounding, so that hardly a point is kept by one only."""
    assert max(ink.shape) > ridges.TILE_PX
    tiled = np.column_stack(find_ridges(ink, 4.0))
    monkeypatch.setattr(ridges, "TILE_PX", 1024)
    whole = np.column_stack(find_ridges(ink, 4.0))
    rounded = [
        {tuple(point) for point in np.round(points / (0.02, 0.02, 0.01, 0.5))} for points in (tiled, whole)
    ]
    assert len(tiled) == pytest.approx(len(whole), abs=3)
    assert len(rounded[0] & rounded[1]) > 0.97 * len(whole)
