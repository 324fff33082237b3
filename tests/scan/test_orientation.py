"""Views between the order of a file and the upright picture."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from proofkit.scan.orientation import as_stored, stored_box, upright


@given(st.integers(1, 8), st.integers(1, 6), st.integers(1, 6))
def test_back_and_forth(orientation, rows, columns):
    stored = np.arange(rows * columns).reshape(rows, columns)
    assert np.array_equal(as_stored(upright(stored, orientation), orientation), stored)


@given(st.integers(1, 8), st.data())
def test_box_holds_the_same_pixels(orientation, data):
    stored = np.arange(7 * 5).reshape(7, 5)
    picture = upright(stored, orientation)
    height, width = picture.shape
    x0 = data.draw(st.integers(0, width - 1))
    y0 = data.draw(st.integers(0, height - 1))
    x1 = data.draw(st.integers(x0 + 1, width))
    y1 = data.draw(st.integers(y0 + 1, height))
    left, top, right, bottom = stored_box((x0, y0, x1, y1), orientation, width, height)
    assert np.array_equal(upright(stored[top:bottom, left:right], orientation), picture[y0:y1, x0:x1])


def test_writing_into_the_view_lands_upright():
    picture = np.zeros((3, 2), dtype=int)
    as_stored(picture, 6)[:] = [[1, 2, 3], [4, 5, 6]]
    assert picture.tolist() == [[4, 1], [5, 2], [6, 3]]  # turned clockwise
