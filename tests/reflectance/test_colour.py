"""Lightness, Lab and colour difference against a reference library, and their symmetries."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from proofkit.reflectance.colour import D50_TO_D65, SRGB_TO_XYZ, delta_e_2000, lab_from_linear_rgb, lightness
from tests.reflectance.colour_library import colour

LAB = st.tuples(st.floats(0, 100), st.floats(-100, 100), st.floats(-100, 100))


def test_lightness_against_colour_science():
    y = np.linspace(0, 1.2, 1000)
    assert lightness(y) == pytest.approx(colour.colorimetry.lightness_CIE1976(y * 100), abs=1e-6)


def test_lab_against_colour_science():
    rgb = np.random.default_rng(0).random((500, 3))
    xyz = rgb @ SRGB_TO_XYZ.T
    white = colour.XYZ_to_xy(SRGB_TO_XYZ.sum(axis=1))
    assert lab_from_linear_rgb(rgb) == pytest.approx(colour.XYZ_to_Lab(xyz, white), abs=1e-3)


def test_adaptation_against_colour_science():
    d50, d65 = (
        colour.xy_to_XYZ(colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"][n])
        for n in ("D50", "D65")
    )
    reference = colour.adaptation.matrix_chromatic_adaptation_VonKries(d50, d65, transform="Bradford")
    assert pytest.approx(reference, abs=2e-4) == D50_TO_D65


def test_shapes_and_missing_values():
    assert lightness(0.5).shape == ()
    assert lab_from_linear_rgb(np.zeros((2, 4, 3))).shape == (2, 4, 3)
    assert delta_e_2000(np.zeros((5, 3)), np.zeros(3)).shape == (5,)
    assert np.isnan(lightness(np.nan))
    assert np.isnan(lab_from_linear_rgb([np.nan, 0.5, 0.5])).all()


@given(LAB, LAB)
def test_difference_is_symmetric(one, two):
    assert delta_e_2000(one, two) == pytest.approx(delta_e_2000(two, one), abs=1e-6)


@given(LAB)
def test_no_difference(lab):
    assert delta_e_2000(lab, lab) == pytest.approx(0, abs=1e-9)


@given(LAB, LAB)
def test_difference_against_colour_science(one, two):
    turned = abs(np.degrees(np.arctan2(one[2], one[1]) - np.arctan2(two[2], two[1])) % 360 - 180)
    if turned > 0.5:  # opposite hues: which way round is short hangs on the last bit
        reference = colour.difference.delta_E_CIE2000(np.array(one), np.array(two))
        assert delta_e_2000(one, two) == pytest.approx(reference, abs=1e-5)
