import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from proofkit.columns import FIGURES, MEASURES, SHEETS, names
from proofkit.judgement.scales import (
    BY_NAME,
    JUDGED,
    Judged,
    from_scale,
    is_worth_a_look,
    steepness,
    to_scale,
)

SCALES = ("log", "linear", "share", "root")


@pytest.mark.parametrize("scale", SCALES)
@given(value=st.floats(0.01, 0.99))
def test_a_value_comes_back_from_its_scale(scale, value):
    assert from_scale(scale, to_scale(scale, np.array([value])))[0] == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize("scale", SCALES)
def test_steepness_is_the_derivative(scale):
    values = np.linspace(0.1, 0.9, 9)
    difference = (to_scale(scale, values + 1e-6) - to_scale(scale, values - 1e-6)) / 2e-6
    np.testing.assert_allclose(steepness(scale, values), difference, rtol=1e-5)


@pytest.mark.parametrize("scale", SCALES)
def test_what_was_not_measured_stays_so(scale):
    assert np.isnan(to_scale(scale, np.array([np.nan]))[0])


def test_counts_spread_alike_on_the_root_scale():
    # Bartlett 1947: the variance of the root of a Poisson count is about 1/4 whatever its mean.
    rng = np.random.default_rng(0)
    for mean in (40, 160, 640):
        assert to_scale("root", rng.poisson(mean, 20000).astype(float)).std() == pytest.approx(0.5, rel=0.02)


def test_a_vanished_line_is_far_off_and_not_missing():
    assert to_scale("log", np.array([0.0]))[0] < to_scale("log", np.array([1.0]))[0] - 3


def test_every_judged_measure_is_a_declared_column():
    assert {judged.measure for judged in JUDGED} <= set(names((*MEASURES, *SHEETS, *FIGURES)))
    assert len(BY_NAME) == len(JUDGED)


def test_the_smallest_difference_that_matters_is_relative_for_sizes():
    load = Judged("line_load_um", "log", 0.03, 0.03, 0.10)
    assert is_worth_a_look(load, np.array([89.0, 91.0, 111.0]), np.array([100.0])).tolist() == [
        True,
        False,
        True,
    ]
    specks = Judged("dark_specks_per_cm2", "root", 0.2, 0.1, 0.5, "upper")
    assert is_worth_a_look(specks, np.array([0.0, 1.4, np.nan]), np.array([1.0])).tolist() == [
        False,
        False,
        False,
    ]
