"""Tone distributions with percentiles, distances and gains that are known beforehand."""

import numpy as np
import pytest

from proofkit.edition import HISTOGRAM_BINS
from proofkit.measures.tone import (
    PERCENTILES,
    coarse_measures,
    histogram_distance,
    tone_histogram,
    tone_measures,
    tone_slopes,
)
from proofkit.measures.uncertainty import u_of_code
from proofkit.reflectance.colour import lightness
from tests.measures.coding import tallied


def reflectances(densities):
    return (10.0 ** -np.asarray(densities)).astype(np.float32)


def row_of(light):
    return tone_measures(tallied(light), np.nan, np.ones(HISTOGRAM_BINS, np.int64))[0]


def test_percentiles_of_an_even_spread():
    row = row_of(reflectances(np.linspace(0, 1, 100_001)))
    for name, percent in PERCENTILES.items():
        assert row[name] == pytest.approx(percent / 100, abs=3e-4)  # codes of 1e-4 are so wide at 1 D


@pytest.mark.parametrize("middle", [0.031, 0.034, 0.037])
def test_percentiles_of_a_narrow_spread_are_not_those_of_its_histogram(middle):
    """A film whose grain is narrower than a bin of 0.01 D, against numpy."""
    densities = middle + np.random.default_rng(8).normal(0, 0.003, 20_000)
    row = row_of(reflectances(densities))
    for name, percent in PERCENTILES.items():
        assert row[name] == pytest.approx(np.percentile(densities, percent), abs=5e-5)


def test_no_pixels_have_no_tone():
    row, counts = tone_measures(tallied(np.empty(0)), np.nan, np.ones(HISTOGRAM_BINS, np.int64))
    assert row == {}
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


@pytest.mark.parametrize(("middle", "noise"), [(0.05, 0.006), (0.3, 0.02), (1.1, 0.05)])
def test_percentiles_of_codes_are_off_by_up_to_half_a_step(middle, noise):
    """Films of all levels in codes of 8 bit and gamma 2.2, on paper of 0.9: against the percentiles before rounding."""
    rng = np.random.default_rng(7)
    errors = []
    for film in rng.uniform(middle - 0.05, middle + 0.05, 300):
        light = 0.9 * 10.0 ** -(film + rng.normal(0, noise, 4000))
        codes = np.rint(255 * np.clip(light, 0, 1) ** (1 / 2.2))
        row = row_of((codes / 255) ** 2.2 / 0.9)
        errors += [row[name] - np.percentile(-np.log10(light / 0.9), p) for name, p in PERCENTILES.items()]
    assert u_of_code(middle, 0.9, 8) == pytest.approx(np.std(errors), rel=0.25)
    assert np.max(np.abs(errors)) < 3 * u_of_code(middle, 0.9, 8) + 0.002
