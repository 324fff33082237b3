"""Pictures for looking keep light: the sRGB curve, and means that survive shrinking."""

import base64
import warnings

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from proofkit.errors import ProofkitError
from proofkit.looking.screen import OUTSIDE_GREY, screen_codes
from proofkit.report.pictures import data_uri, shrunk

with warnings.catch_warnings():
    warnings.filterwarnings("ignore", message='"Matplotlib"')  # colour-science would like to plot; we do not
    import colour


@given(st.lists(st.floats(0, 1, width=32), min_size=1, max_size=50))
def test_screen_codes_follow_the_srgb_curve(values):
    # IEC 61966-2-1 as implemented by colour-science.
    expected = np.rint(255 * colour.cctf_encoding(np.asarray(values, dtype=np.float64), "sRGB"))
    codes = screen_codes(np.asarray([values], dtype=np.float32))[0].astype(int)
    assert np.abs(codes - expected).max() <= 1


def test_light_beyond_paper_is_white_and_nothing_is_grey():
    codes = screen_codes(np.array([[1.3, -0.1, np.nan]], dtype=np.float32))
    assert codes.tolist() == [[255, 0, OUTSIDE_GREY]]


def test_shrinking_keeps_the_mean_of_light():
    picture = np.random.default_rng(1).uniform(0, 1, (240, 360)).astype(np.float32)
    small = shrunk(picture, 60)
    assert small.shape == (40, 60)
    assert small.mean() == pytest.approx(picture.mean(), abs=1e-4)


def test_shrinking_does_not_spread_what_is_missing():
    picture = np.full((100, 100), 0.5, dtype=np.float32)
    picture[:, :50] = np.nan
    small = shrunk(picture, 10)
    assert np.isnan(small[:, :5]).all()
    assert small[:, 5:] == pytest.approx(0.5)


def test_small_pictures_are_left_alone():
    picture = np.ones((5, 8), dtype=np.float32)
    assert shrunk(picture, 10) is picture


def test_a_data_address_holds_the_picture():
    ramp = np.tile(np.linspace(0, 1, 64, dtype=np.float32), (48, 1))
    address = data_uri(ramp)
    head, code = address.split(",")
    assert head == "data:image/jpeg;base64"
    back = cv2.imdecode(np.frombuffer(base64.b64decode(code), np.uint8), cv2.IMREAD_GRAYSCALE)
    assert back.shape == (48, 64)
    assert np.abs(back.astype(int) - screen_codes(ramp)).max() <= 8


def test_an_empty_picture_is_one_line():
    with pytest.raises(ProofkitError, match="no pixels"):
        data_uri(np.empty((0, 5), dtype=np.float32))
