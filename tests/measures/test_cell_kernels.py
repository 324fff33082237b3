"""Counts of cells and their statistics against numpy and the definition of lightness."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from proofkit.arrays import packed, unpacked
from proofkit.edition import HISTOGRAM_BINS, HISTOGRAM_START_DENSITY, HISTOGRAM_STEP_DENSITY
from proofkit.measures import region_cells
from proofkit.measures.cell_kernels import CODES, block_areas, block_sums, count_codes, open_squares
from proofkit.measures.statistics import moments, percentiles, trimmed_mean
from proofkit.measures.tone import tone_histogram, tone_measures
from tests.measures.coding import UNIT, tallied

CODED = arrays.arrays(np.uint16, st.integers(1, 400), elements=st.integers(0, CODES - 1))


def tally_of(codes):
    return region_cells.tally_of(np.bincount(codes), UNIT)


@given(codes=CODED, percent=st.lists(st.floats(0, 100), min_size=1, max_size=4))
def test_percentiles_are_those_of_numpy(codes, percent):
    assert percentiles(tally_of(codes), percent) == pytest.approx(
        np.percentile(codes * UNIT, percent), rel=1e-9, abs=1e-12
    )


@given(mask=arrays.arrays(np.bool_, st.tuples(st.integers(1, 5), st.integers(1, 40))))
def test_a_mask_comes_back_from_its_bits(mask):
    assert (unpacked(packed(mask), mask.shape[1]) == mask).all()


def masks(shape, seed):
    """Three masks in runs of any length, the second and third inside the first and partly in each other."""
    rng = np.random.default_rng(seed)

    def runs(share):
        size = shape[0] * shape[1]
        return np.repeat(rng.random(size) < share, rng.integers(1, 30, size))[:size].reshape(shape)

    inside = runs(0.8)
    return inside, inside & runs(0.5), inside & runs(0.4)


@pytest.mark.parametrize("shape", [(1, 1), (3, 7), (20, 8), (9, 203)])
def test_cells_are_counted_by_code_and_kind(shape):
    inside, far, near = masks(shape, 7)
    codes = np.random.default_rng(1).integers(0, 5, shape).astype(np.uint16) * 13107
    counts = count_codes(codes, packed(inside), packed(far), packed(near))
    for kind in range(4):
        wanted = inside & (far == bool(kind & 1)) & (near == bool(kind & 2))
        assert (counts[kind] == np.bincount(codes[wanted], minlength=CODES)).all()


@pytest.mark.parametrize("shape", [(40, 64), (43, 61), (7, 5)])
@pytest.mark.parametrize("side", [6, 8, 47])
def test_sums_and_numbers_of_wanted_cells(shape, side):
    codes = np.random.default_rng(2).integers(0, CODES, shape).astype(np.uint16)
    wanted, _, _ = masks(shape, 3)
    total, kept, known = block_sums(codes, packed(wanted), side, 9_000, 60_000)
    every = block_areas(packed(wanted), shape[1], side, 1)
    third = block_areas(packed(wanted), shape[1], side, 3)
    assert total.shape == every.shape == (-(-shape[0] // side), -(-shape[1] // side))
    for i in range(total.shape[0]):
        for j in range(total.shape[1]):
            block = np.s_[side * i : side * (i + 1), side * j : side * (j + 1)]
            here = codes[block][wanted[block]].astype(int)
            some = here[(here >= 9_000) & (here <= 60_000)]
            assert (total[i, j], kept[i, j], known[i, j]) == (some.sum(), len(some), len(here))
            assert every[i, j] == len(here) / side**2
            assert third[i, j] == wanted[block][::3].sum() / (len(range(0, side, 3)) * side)


def test_limits_beyond_all_codes_keep_every_cell():
    codes = np.array([[0, CODES - 1]], dtype=np.uint16)
    assert block_sums(codes, packed(np.ones((1, 2), dtype=np.bool_)), 2, -3, CODES + 7)[0] == CODES - 1


def test_moments_between_limits():
    codes = np.random.default_rng(2).integers(1, 10_000, 5000)
    kept = codes[(codes >= 2000) & (codes <= 7000)] * UNIT
    assert moments(tally_of(codes), 1999.5 * UNIT, 7000.5 * UNIT) == pytest.approx(
        (kept.mean(), kept.std()), rel=1e-12
    )
    assert np.isnan(moments(tally_of(codes), 2.0, 3.0)).all()


def test_specks_and_lint_have_no_say_in_a_trimmed_mean():
    values = np.full(2000, 0.8)
    values[:9], values[-9:] = 0.0, 1.4
    assert trimmed_mean(tallied(values)) == pytest.approx(0.8, abs=1e-7)


def test_bins_of_density_are_those_of_the_logarithm():
    values = np.random.default_rng(3).integers(1, CODES, 20_000) * UNIT
    dense = -np.log10(values)
    place = (dense - HISTOGRAM_START_DENSITY) / HISTOGRAM_STEP_DENSITY
    sure = np.abs(place - np.rint(place)) > 1e-9
    wanted = np.clip(np.floor(place[sure]), 0, HISTOGRAM_BINS - 1).astype(int)
    counts = tone_histogram(tallied(values[sure]))
    assert (counts == np.bincount(wanted, minlength=HISTOGRAM_BINS)).all()


def test_lightness_is_that_of_the_standard_curve():
    """L* = 116 R^(1/3) - 16 above (6/29)^3, straight below (CIE 15:2004, 8.2.1.1)."""
    values = np.random.default_rng(4).integers(1, 12_000, 50_000) * UNIT
    exact = np.where(values > (6 / 29) ** 3, 116 * np.cbrt(values) - 16, values * (29 / 3) ** 3)
    tally = tallied(values)
    row, _ = tone_measures(tally, 1.0, tone_histogram(tally))
    assert row["lightness_mean"] == pytest.approx(exact.mean(), abs=1e-9)
    assert row["lightness_sd"] == pytest.approx(exact.std(), abs=1e-9)


@pytest.mark.parametrize(("shape", "reach", "step"), [((60, 83), 2, 1), ((91, 64), 5, 3), ((12, 40), 6, 1)])
def test_squares_of_nothing_but_wanted_cells_are_those_of_opencv(shape, reach, step):
    wanted = np.ones(shape, dtype=np.bool_)
    wanted[tuple(np.random.default_rng(8).integers(0, side, 25) for side in shape)] = False
    square = np.ones((2 * reach + 1, 2 * reach + 1), dtype=np.uint8)
    inner = cv2.erode(wanted.astype(np.uint8), square, borderType=cv2.BORDER_CONSTANT, borderValue=0)
    rows, columns = open_squares(packed(wanted), shape[1], reach, step)
    found = np.zeros_like(inner)
    found[rows, columns] = 1
    assert (found[reach::step, reach::step] == inner[reach::step, reach::step]).all()
    assert found.sum() == inner[reach::step, reach::step].sum() == len(rows)
    assert found.any() or shape[0] < 2 * reach + 1
