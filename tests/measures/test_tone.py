"""Tone distributions with percentiles, distances and gains that are known beforehand."""

import numpy as np
import pytest

from proofkit.edition import HISTOGRAM_BINS, HISTOGRAM_STEP_DENSITY
from proofkit.measures.tone import (
    coarse_measures,
    histogram_distance,
    percentile,
    tone_histogram,
    tone_measures,
    tone_slopes,
)
from proofkit.reflectance.colour import lightness
from tests.measures.coding import tallied


def reflectances(densities):
    return (10.0 ** -np.asarray(densities)).astype(np.float32)


def test_percentiles_of_an_even_spread():
    counts = tone_histogram(tallied(reflectances(np.linspace(0, 1, 100_001))))
    assert counts.sum() == 100_001
    for percent in (5, 25, 50, 75, 95):
        assert percentile(counts, percent) == pytest.approx(percent / 100, abs=HISTOGRAM_STEP_DENSITY)


def test_no_pixels_have_no_tone():
    row, counts = tone_measures(tallied(np.empty(0)), np.nan, np.ones(HISTOGRAM_BINS, np.int64))
    assert row == {}
    assert np.isnan(percentile(counts, 50))
    assert np.isnan(histogram_distance(counts, counts))


def test_pixels_beyond_the_scale_are_kept_at_its_ends():
    counts = tone_histogram(tallied(np.array([0.0, -1.0, 1e-9, 50.0])))
    assert counts.sum() == 4
    assert counts[0] == 1
    assert counts[1:].sum() == 3


@pytest.mark.parametrize("gain", [0.8, 1.0, 1.3])
def test_gain_and_mottle_of_coarse_cells(gain):
    rng = np.random.default_rng(2)
    standard = rng.uniform(0.1, 0.9, (20, 30))
    sheet = 0.05 + gain * standard + rng.normal(0, 0.01, standard.shape)
    row = coarse_measures(reflectances(sheet), reflectances(standard))
    assert row["tone_gain"] == pytest.approx(gain, abs=0.01)
    assert row["mottle_density"] == pytest.approx(0.01, rel=0.1)


def test_an_even_field_has_mottle_but_no_gain():
    rng = np.random.default_rng(3)
    standard, sheet = 0.4 + rng.normal(0, 0.008, (2, 15, 15))
    row = coarse_measures(reflectances(sheet), reflectances(standard))
    assert set(row) == {"mottle_density"}
    assert row["mottle_density"] == pytest.approx(0.008 * np.sqrt(2), rel=0.15)


def test_cells_outside_either_sheet_are_left_out():
    standard, sheet = np.full((10, 10), 0.5, np.float32), np.full((10, 10), 0.5, np.float32)
    standard[:5], sheet[5:] = np.nan, np.nan
    assert coarse_measures(sheet, standard) == {}


def test_means_move_with_curve_and_paper_as_their_pixels_do():
    """Against the means of pixels whose densities, or whose light, are all 0.1 % higher."""
    rng = np.random.default_rng(6)
    light = np.concatenate(
        (rng.uniform(0.7, 0.95, 6000), rng.uniform(0.03, 0.12, 3000), rng.uniform(0.1, 0.7, 1000))
    )
    found = tone_slopes(tone_histogram(tallied(light)))
    curved, brighter = light**1.001, 1.001 * light
    assert found.light_by_curve == pytest.approx((curved - light).mean() / 0.001, rel=0.01)
    assert found.lightness_by_curve == pytest.approx(
        (lightness(curved) - lightness(light)).mean() / 0.001, rel=0.01
    )
    assert found.lightness_by_paper == pytest.approx(
        (lightness(brighter) - lightness(light)).mean() / 0.001, rel=0.01
    )
