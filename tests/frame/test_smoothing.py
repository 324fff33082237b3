"""Smoothing of profiles is scipy's and numpy's."""

import numpy as np
import pytest
from scipy import ndimage

from proofkit.frame.smoothing import correlated, level_inside, smoothed


@pytest.mark.parametrize("sigma", [0.5, 1.0, 2.0, 4.0])
def test_smoothed_as_by_scipy(sigma):
    values = np.random.default_rng(1).normal(size=40)
    assert smoothed(values, sigma) == pytest.approx(ndimage.gaussian_filter1d(values, sigma, mode="nearest"))


def test_correlated_as_by_numpy():
    rng = np.random.default_rng(2)
    values, weights = rng.normal(size=50), rng.normal(size=11)
    assert correlated(values, weights) == pytest.approx(np.correlate(values, weights, mode="same"))


def test_level_is_the_median_of_a_stretch_and_held_at_the_end():
    values = np.random.default_rng(3).normal(size=60)
    assert level_inside(values, 20.2, 0.3, 0.6, 0.05) == np.median(values[26:33])
    assert level_inside(values, 58.0, 0.3, 0.6, 0.05) == values[59]
