import numpy as np
import pytest
from scipy import stats

from proofkit.measures.fine_picture import NO_SHEET
from proofkit.places.kernels import BESIDE, centre_and_spread, median_codes
from proofkit.places.spread import small_sample_factor, steadied


@pytest.mark.parametrize("count", [2, 3, 4, 5, 8, 9, 15, 40])
def test_the_small_sample_factor_makes_the_spread_true_on_average(count):
    # Drawn anew: 40 000 samples of normal values; the mean of their deviations is known to about 0.4 %.
    values = np.random.default_rng(7).standard_normal((40_000, count))
    mean = stats.median_abs_deviation(values, axis=1, scale="normal").mean()
    assert mean * small_sample_factor(count) == pytest.approx(1.0, abs=0.015)


@pytest.mark.parametrize("sheets", [4, 5, 8, 9, 11, 30, 100])
def test_centre_and_spread_are_those_of_scipy(sheets):
    rng = np.random.default_rng(3)
    stack = rng.normal(0, 1, (sheets, 6, BESIDE + 5)).astype(np.float32)
    stack[rng.random(stack.shape) < 0.1] = np.nan
    stack[0] = np.nan
    stack[:-2, 2, 2] = np.nan
    stack[:, 3, 3] = np.nan
    centre, spread = (np.empty(stack.shape[1:], np.float32) for _ in range(2))
    centre_and_spread(stack, centre, spread)
    few = np.isfinite(stack).sum(axis=0) < 3
    assert few[2, 2]
    assert few[3, 3]
    assert np.isnan(centre[few]).all()
    assert np.isnan(spread[few]).all()
    known = stack[:, ~few]
    expected = stats.median_abs_deviation(known, axis=0, scale="normal", nan_policy="omit")
    np.testing.assert_allclose(spread[~few], expected, rtol=1e-4, atol=1e-6)
    np.testing.assert_allclose(centre[~few], np.nanmedian(known, axis=0), rtol=1e-5, atol=1e-7)


def test_the_median_code_leaves_out_what_is_not_shown():
    stack = np.random.default_rng(3).integers(0, 250, (7, 6, 5)).astype(np.uint8)
    stack[:2, 1] = NO_SHEET
    stack[:, 4, 4] = NO_SHEET
    middle, seen = np.empty((6, 5), np.uint8), np.empty((6, 5), np.uint8)
    median_codes(stack, middle, seen)
    np.testing.assert_array_equal(middle[0], np.median(stack[:, 0], axis=0))
    np.testing.assert_array_equal(middle[1], np.median(stack[2:, 1], axis=0))
    assert middle[4, 4] == NO_SHEET
    assert seen[1].tolist() == [5] * 5
    assert seen[4, 4] == 0


def test_a_cell_that_repeats_by_chance_is_steadied_by_cells_alike():
    rng = np.random.default_rng(5)
    own = np.abs(rng.normal(0.02, 0.004, (60, 80))).astype(np.float32)
    own[30, 40] = 0.0
    own[10, 10] = 5.0
    ink = np.full(own.shape, 0.3, np.float32)
    spread = steadied(own, ink, np.zeros_like(own), 12)
    assert spread[30, 40] > 0.01
    assert spread[10, 10] < 0.08
    assert np.median(spread) == pytest.approx(0.02, rel=0.15)
