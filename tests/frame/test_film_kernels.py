"""Loops over stretches of film against numpy and scipy."""

import numpy as np
import pytest
from scipy import ndimage

from proofkit.frame.film_kernels import (
    FLOOR_MM,
    WAVE_MM,
    along,
    heights_of,
    near_course,
    ranked,
    resampled,
    sums_along,
)


def test_rows_are_added_at_their_own_offsets_and_the_border_goes_on():
    rng = np.random.default_rng(2)
    table, offsets = rng.normal(size=(7, 30)), rng.integers(-9, 10, (5, 7))
    at = np.clip(np.arange(4, 28) + offsets[:, :, None], 0, 29)
    assert (sums_along(table, offsets, 4, 28) == table[np.arange(7)[:, None], at].sum(axis=1)).all()


def test_values_between_samples_are_numpys():
    rng = np.random.default_rng(3)
    table, grid = rng.normal(size=(6, 30)), -0.4 + 0.05 * np.arange(30)
    places = rng.uniform(-0.6, 1.3, 6)
    expected = [np.interp(place, grid, row) for place, row in zip(places, table, strict=True)]
    assert along(table, -0.4, 0.05, places) == pytest.approx(expected)
    expected = [np.interp(places, grid, row) for row in table]
    assert resampled(table, -0.4, 0.05, places) == pytest.approx(np.array(expected))


def test_heights_are_numpys_correlation_of_what_is_cut():
    rng = np.random.default_rng(4)
    profiles, weights = rng.normal(size=(5, 40)), rng.normal(size=9)
    expected = [np.correlate(np.minimum(row, 0.7), weights, mode="same") for row in profiles]
    assert heights_of(profiles, weights, 0.7) == pytest.approx(np.array(expected))


@pytest.mark.parametrize("columns", [1, 2, 14, 15])
def test_ranks_are_scipys(columns):
    table = np.random.default_rng(5).normal(size=(13, 40)).round(1)  # rounded: some are equal
    rank = int(5 * columns * 0.28)
    expected = ndimage.rank_filter(table, rank, size=(5, columns), mode="nearest")
    assert (ranked(table, (5, columns), rank, (0, 40)) == expected).all()
    assert (ranked(table, (5, columns), rank, (17, 35)) == expected[:, 17:35]).all()


def test_place_near_a_course_is_the_mean_of_what_is_likely():
    """A step of height h read with a triangle's answer: the likelihood is known in closed form at each place."""
    grid = -0.5 + 0.01 * np.arange(101)
    film, variance, off = np.full((6, 101), 0.02), 1e-5, np.array([0.0, 0.01, 0.02, 0.01, 0.0, 0.005])
    height = np.maximum(0.02 * (1 - np.abs(grid - 0.1 - off[:, None]) / 0.1), 0.0)
    shift, u = near_course((film * height, film), (-0.5, 0.01), np.full(6, 0.1), 3, (1.0, variance))
    tried = np.linspace(-0.09, 0.09, 61)
    for k, part in enumerate((slice(0, 3), slice(3, 6))):
        answers = [np.interp(0.1 + tried, grid, row) for row in height[part]]
        log = 0.02 * np.sum(answers, axis=0) / variance - 0.5 * (tried / WAVE_MM) ** 2
        chance = np.exp(log - log.max()) / np.exp(log - log.max()).sum()
        mean = chance @ tried
        assert shift[k] == pytest.approx(mean, abs=1e-9)
        assert u[k] == pytest.approx(np.sqrt(chance @ (tried - mean) ** 2 + FLOOR_MM**2))


def test_no_step_near_a_course_has_no_place():
    film = np.full((4, 101), 0.02)
    shift, u = near_course((np.zeros((4, 101)), film), (-0.5, 0.01), np.zeros(4), 4, (1.0, 1e-6))
    assert (shift[0], u[0]) == (0.0, np.inf)
