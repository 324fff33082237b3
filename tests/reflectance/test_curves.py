"""Which curve is taken, and what the named curves are."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from proofkit.errors import CalibrationError
from proofkit.folder.edition import Capture
from proofkit.quality import Quality
from proofkit.reflectance import tone_curve
from proofkit.reflectance.curves import srgb_to_linear
from tests.reflectance.profiles import curv, rgb_profile, scan_file

ICC = rgb_profile([curv()] * 3)


@pytest.mark.parametrize(
    ("text", "name", "half"),
    [
        ("sRGB", "sRGB", 0.2158605),
        ("srgb", "sRGB", 0.2158605),
        (" S-RGB ", "sRGB", 0.2158605),
        ("linear", "linear", 128 / 255),
        ("gamma 2.2", "gamma 2.2", (128 / 255) ** 2.2),
        ("gamma=2.2", "gamma 2.2", (128 / 255) ** 2.2),
        ("Gamma: 1,8", "gamma 1.8", (128 / 255) ** 1.8),
        ("2.2", "gamma 2.2", (128 / 255) ** 2.2),
        ("gamma", "gamma 2.2", (128 / 255) ** 2.2),
        ("1", "gamma 1", 128 / 255),
        ("icc", 'embedded profile "hand made"', 128 / 255),
        ("Embedded profile", 'embedded profile "hand made"', 128 / 255),
    ],
)
def test_texts(text, name, half):
    curve = tone_curve(scan_file(ICC), Capture(tone_curve=text))
    assert curve.name == name
    assert curve.tables[:, 128] == pytest.approx([half] * 3, abs=2e-6)
    assert curve.quality == Quality.NONE
    assert sum(curve.weights) == pytest.approx(1)


@pytest.mark.parametrize("text", ["film", "gamma 0.4", "gamma 9", "sRGB 2.2", "-2.2", "2.2.2"])
def test_texts_that_are_not_known(text):
    with pytest.raises(CalibrationError) as caught:
        tone_curve(scan_file(), Capture(tone_curve=text))
    assert f"'{text}'" in str(caught.value)
    assert "allowed" in str(caught.value)


def test_order_of_what_is_taken():
    assert tone_curve(scan_file(ICC, declared="linear"), Capture()).name.startswith("embedded profile")
    assert tone_curve(scan_file(ICC), Capture(tone_curve="")).name.startswith("embedded profile")
    declared = tone_curve(scan_file(declared="gamma 2"), Capture())
    assert declared.name == "gamma 2 (declared by the file)"
    assert declared.quality == Quality.NONE
    assumed = tone_curve(scan_file(), Capture())
    assert assumed.name == "sRGB (assumed)"
    assert assumed.quality == Quality.CURVE_ASSUMED


def test_wedge_is_asked_for_but_not_described():
    with pytest.raises(CalibrationError, match="no wedge is described"):
        tone_curve(scan_file(), Capture(tone_curve="wedge"))


@pytest.mark.parametrize(("channels", "bits"), [(1, 8), (1, 16), (3, 8), (3, 16)])
def test_tables_fit_the_file(channels, bits):
    curve = tone_curve(scan_file(channels=channels, bits=bits), Capture())
    assert curve.tables.shape == (channels, 1 << bits)
    assert curve.tables.dtype == np.float32
    assert len(curve.weights) == channels
    assert (curve.tables[:, 0] == 0).all()
    assert (curve.tables[:, -1] == 1).all()


@given(st.floats(1.0, 3.0), st.sampled_from([8, 16]))
def test_every_gamma_rises_from_black_to_white(gamma, bits):
    table = tone_curve(scan_file(bits=bits, channels=1), Capture(tone_curve=f"gamma {gamma:.4f}")).tables[0]
    assert table[0] == 0
    assert table[-1] == 1
    assert (np.diff(table) >= 0).all()


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_srgb_rises(one, two):
    low, high = sorted((one, two))
    assert srgb_to_linear(low) <= srgb_to_linear(high)
