"""Tone distributions with percentiles, distances and gains that are known beforehand."""

import numpy as np
import pytest

from proofkit.edition import HISTOGRAM_BINS, HISTOGRAM_STEP_DENSITY
from proofkit.laying.rectify_kernels import NODE_PX, code_cells
from proofkit.measures.tone import (
    coarse_measures,
    histogram_distance,
    percentile,
    tone_histogram,
    tone_measures,
    tone_slopes,
)
from proofkit.reflectance.colour import lightness
from tests.lines.drawn import bar
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


def _nodes(x0, y0, turn, rows, columns):
    """Places of the nodes of `rows` x `columns` cells of a pixel each, turned about the first; level 0.5."""
    far = NODE_PX * np.arange(2 + max(rows, columns) // NODE_PX)
    c, r = np.meshgrid(far, far)
    x = x0 + np.cos(turn) * c - np.sin(turn) * r
    y = y0 + np.sin(turn) * c + np.cos(turn) * r
    return x, y, np.full(x.shape, 0.5)


def mean_of(plane, x, y, level, wanted):
    gain = 0.5 / level
    return code_cells(plane, x, y, gain, wanted, np.empty(wanted.shape, np.uint16)) / (0.5 * 65535)


def test_mean_tone_is_that_of_light_not_of_density():
    """Nine pixels of R 0.80 and one of 0.04: the mean is 0.724, D 0.140261 (identity)."""
    light = np.full((12, 12), 0.80)
    light[:, 10] = 0.04
    plane = np.rint(0.5 * 65535 * light).astype(np.uint16)
    mean = mean_of(plane, *_nodes(1.0, 1.0, 0.0, 10, 10), np.ones((10, 10), dtype=bool))
    assert -np.log10(mean) == pytest.approx(0.140261, abs=1e-5)


def test_mean_light_of_a_slope_is_that_of_the_cells_middle():
    # Linear reading is exact on a plane of light; 7 x 5 cells about x = 23, y = 12.
    rows, columns = np.mgrid[:40, :50]
    plane = (1000 + 300 * columns + 100 * rows).astype(np.uint16)
    mean = mean_of(plane, *_nodes(20.25, 10.5, 0.0, 5, 7), np.ones((5, 7), dtype=bool))
    assert mean == pytest.approx((1000 + 300 * 23.25 + 100 * 12.5) / (0.5 * 65535), rel=1e-12)


def test_mean_light_leaves_out_what_is_not_wanted_or_off_the_scan():
    plane = np.full((20, 20), 6553, dtype=np.uint16)
    plane[:, 10:] = 60000
    wanted = np.zeros((30, 30), dtype=bool)
    wanted[3:30, 2:9] = True
    assert mean_of(plane, *_nodes(0.0, 0.0, 0.0, 30, 30), wanted) == pytest.approx(6553 / (0.5 * 65535))
    assert np.isnan(mean_of(plane, *_nodes(50.0, 0.0, 0.0, 30, 30), wanted))


def test_mean_light_does_not_hang_on_where_the_sheet_lies():
    """Upright bars of 4 px, 17 px apart, blurred by 0.9 px: 4 / 17 of four whole periods is dark, by algebra."""
    x = np.arange(120)
    dark = sum(bar(x - 17 * k - 3, 4.0, 0.9) for k in range(-1, 9))
    plane = np.rint(60000 * (1 - 0.9 * np.tile(dark, (120, 1)))).astype(np.uint16)
    wanted = np.ones((40, 68), dtype=bool)
    rng = np.random.default_rng(3)
    means = [
        mean_of(
            plane,
            *_nodes(20 + rng.uniform(0, 9), 20 + rng.uniform(), rng.uniform(-0.01, 0.01), 40, 68),
            wanted,
        )
        for _ in range(12)
    ]
    # Of the nearest pixels whole columns are taken twice or left out: 0.9 / 68 each.
    assert np.array(means) == pytest.approx(60000 / (0.5 * 65535) * (1 - 0.9 * 4 / 17), abs=0.0012)


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
