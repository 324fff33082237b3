"""Statistics of cells against numpy, OpenCV and the definition of lightness."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from proofkit.arrays import packed, unpacked
from proofkit.edition import HISTOGRAM_BINS, HISTOGRAM_START_DENSITY, HISTOGRAM_STEP_DENSITY
from proofkit.laying.rectify import Box
from proofkit.measures.cell_kernels import known_cells, moments, smoothed_ratios
from proofkit.measures.specks import find_specks
from proofkit.measures.statistics import percentiles, trimmed_mean
from proofkit.measures.tone import tone_histogram, tone_measures
from tests.measures.test_film import PITCH, record

REFLECTANCES = arrays.arrays(np.float32, st.integers(1, 400), elements=st.floats(-0.25, 4.0, width=32))


@given(values=REFLECTANCES, percent=st.lists(st.floats(0, 100), min_size=1, max_size=4))
def test_percentiles_are_those_of_numpy(values, percent):
    assert percentiles(values, percent) == pytest.approx(
        np.percentile(values.astype(np.float64), percent), rel=1e-12, abs=1e-12
    )


@given(mask=arrays.arrays(np.bool_, st.tuples(st.integers(1, 5), st.integers(1, 40))))
def test_a_mask_comes_back_from_its_bits(mask):
    assert (unpacked(packed(mask), mask.shape[1]) == mask).all()


def test_known_cells_are_the_wanted_ones_that_are_not_nan():
    rng = np.random.default_rng(1)
    picture = rng.random((30, 41)).astype(np.float32)
    picture[rng.random(picture.shape) < 0.2] = np.nan
    wanted = rng.random(picture.shape) < 0.7
    assert (known_cells(picture, wanted) == picture[wanted & np.isfinite(picture)]).all()


def test_known_cells_of_long_runs():
    """Runs of every length: words of eight cells that are empty, full and mixed, and a rest at the end."""
    rng = np.random.default_rng(7)
    for size in (0, 1, 7, 8, 9, 200, 1003):
        picture = rng.random((1, size)).astype(np.float32)
        wanted = np.repeat(rng.random(size) < 0.5, rng.integers(1, 30, size))[None, :size]
        assert (known_cells(picture, wanted) == picture[wanted]).all()
        assert len(known_cells(picture[:, ::-1], wanted[:, ::-1])) == wanted.sum()


def test_moments_between_limits():
    values = np.random.default_rng(2).random(5000).astype(np.float32)
    kept = values[(values >= 0.2) & (values <= 0.7)].astype(np.float64)
    assert moments(values, 0.2, 0.7) == pytest.approx((len(kept), kept.mean(), kept.std()), rel=1e-12)


def test_specks_and_lint_have_no_say_in_a_trimmed_mean():
    values = np.full(2000, 0.8, dtype=np.float32)
    values[:9], values[-9:] = 0.0, 1.4
    assert trimmed_mean(values) == pytest.approx(0.8, abs=1e-7)


def test_bins_of_density_are_those_of_the_logarithm():
    values = (10.0 ** -np.random.default_rng(3).uniform(-0.4, 3.2, 20_000)).astype(np.float32)
    dense = -np.log10(values.astype(np.float64))
    place = (dense - HISTOGRAM_START_DENSITY) / HISTOGRAM_STEP_DENSITY
    sure = np.abs(place - np.rint(place)) > 1e-4
    wanted = np.clip(np.floor(place[sure]), 0, HISTOGRAM_BINS - 1).astype(int)
    counts = tone_histogram(values[sure])
    assert (counts == np.bincount(wanted, minlength=HISTOGRAM_BINS)).all()


def test_lightness_is_that_of_the_standard_curve():
    """L* = 116 R^(1/3) - 16 above (6/29)^3, straight below (CIE 15:2004, 8.2.1.1)."""
    values = np.random.default_rng(4).uniform(0, 1.2, 50_000).astype(np.float32)
    exact = np.where(
        values > (6 / 29) ** 3, 116 * np.cbrt(values.astype(np.float64)) - 16, values * (29 / 3) ** 3
    )
    row, _ = tone_measures(values, 1.0, tone_histogram(values))
    assert row["lightness_mean"] == pytest.approx(exact.mean(), abs=2e-4)
    assert row["lightness_sd"] == pytest.approx(exact.std(), abs=2e-4)
    dark = np.full(10, 0.0123, dtype=np.float32)
    row, _ = tone_measures(dark, 1.0, tone_histogram(dark))
    assert row["lightness_mean"] == pytest.approx(116 * np.cbrt(0.0123) - 16, abs=2e-4)
    assert row["lightness_sd"] == pytest.approx(0, abs=1e-5)


def test_smoothed_ratios_are_box_means_where_all_is_ground():
    rng = np.random.default_rng(5)
    picture, level = (rng.uniform(0.5, 1.0, (20, 33)).astype(np.float32) for _ in range(2))
    found = smoothed_ratios(picture, np.ones(picture.shape, dtype=np.bool_), level)
    assert found == pytest.approx(cv2.blur(picture, (3, 3)) / level, rel=1e-6)


def test_smoothed_ratios_pass_over_what_is_not_known_and_take_the_level_beside_the_ground():
    """Against every cell by itself; at an edge the neighbour inward counts twice."""
    rng = np.random.default_rng(6)
    picture, level = (rng.uniform(0.5, 1.0, (14, 21)).astype(np.float32) for _ in range(2))
    ground = np.repeat(rng.random((14, 7)) < 0.6, 3, axis=1)
    picture[rng.random(picture.shape) < 0.05] = np.nan
    level[:2, :5] = np.nan
    found = smoothed_ratios(picture, ground, level)
    filled = np.pad(np.where(ground, picture, level).astype(np.float64), 1, mode="reflect")
    for (r, c), value in np.ndenumerate(found):
        if ground[r, c] and level[r, c] > 0:
            assert value == pytest.approx(np.nanmean(filled[r : r + 3, c : c + 3]) / level[r, c], rel=1e-6)
        else:
            assert value == 1


def test_specks_are_seen_below_a_part_without_ground():
    """A mean taken as a running sum down the columns would carry what is unknown there to all rows below."""
    box = Box(0.0, 0.0, 400, 320, PITCH)
    values = np.full((box.rows, box.columns), 0.9, dtype=np.float32)
    ground = np.ones(values.shape, dtype=np.bool_)
    ground[60:180] = False
    values[60:180] = np.nan
    values[250:256, 100:106] = 0.4
    row, listed = find_specks(values, record(ground))
    assert [(speck.kind, round(speck.x_mm, 1), round(speck.y_mm, 1)) for speck in listed] == [
        ("dark", 5.1, 12.6)
    ]
    assert row["light_specks_per_cm2"] == 0
