"""Robust fits of places along an edge beside numpy's and statsmodels' own."""

import numpy as np
import pytest
from statsmodels.robust import norms
from statsmodels.robust.robust_linear_model import RLM

from proofkit.frame.matching_kernels import (
    costs_of_shifts,
    least_squares,
    moved_by,
    own_length,
    projected,
    robust,
    steepnesses,
    weights_about,
)


@pytest.mark.parametrize(("n", "k"), [(5, 5), (9, 2), (60, 3), (200, 7)])
def test_least_squares_as_numpy_has_them(n, k):
    draw = np.random.default_rng(n)
    design, values = draw.normal(size=(n, k)), draw.normal(size=n)
    expected = np.linalg.lstsq(design, values, rcond=None)[0]
    assert least_squares(design.copy(), values.copy()) == pytest.approx(expected, abs=1e-11)


def test_a_column_of_nothing_gets_nothing():
    design = np.column_stack((np.ones(8), np.zeros(8), np.arange(8.0)))
    found = least_squares(design.copy(), 3.0 + 2.0 * np.arange(8.0))
    assert found == pytest.approx([3.0, 0.0, 2.0], abs=1e-12)


def test_a_column_twice_fits_as_well_as_once():
    column = np.linspace(-1, 1, 20)
    design = np.column_stack((np.ones(20), column, column))
    found = least_squares(design.copy(), 1.0 + 4.0 * column)
    assert design @ found == pytest.approx(1.0 + 4.0 * column, abs=1e-10)


def test_the_last_fit_is_tukeys_as_statsmodels_has_it():
    """Of 80 places of which every tenth is far off; both end at the same weights from a Huber start."""
    draw = np.random.default_rng(4)
    u = np.linspace(-1, 1, 80)
    design = np.column_stack((np.ones_like(u), u, u * u))
    values = design @ (0.4, -1.2, 0.7) + draw.normal(0, 0.3, 80)
    values[::10] += 9.0
    found, scatter = robust(design, values, 200)
    huber = RLM(values, design, M=norms.HuberT(1.5)).fit(scale_est="mad")
    tukey = RLM(values, design, M=norms.TukeyBiweight(4.685)).fit(
        scale_est="mad", start_params=huber.params, maxiter=500, tol=1e-12
    )
    assert found == pytest.approx(tukey.params, abs=2e-4)
    assert scatter == pytest.approx(tukey.scale, rel=2e-3)  # 1.4826 is rounded, theirs is not
    assert robust(design, values, 10)[0] == pytest.approx(tukey.params, abs=5e-3)


def test_the_slant_of_drawn_pieces_is_the_steepest():
    draw = np.random.default_rng(2)
    lever, samples = np.linspace(-1, 1, 30), np.arange(80.0)
    for slant in (-7.0, 0.0, 4.0):
        density = 0.1 / (1 + np.exp(-(samples - 40 - slant * lever[:, None]) / 1.5))
        density[3] = 5.0 * (samples > 20)  # image beside the edge, cut to what an edge has
        slants = np.arange(-10.0, 11.0)
        found = steepnesses(density + draw.normal(0, 0.003, density.shape), lever, slants, 0.15)
        assert slants[found.argmax()] == pytest.approx(slant, abs=1.0)


def test_profiles_are_read_between_samples_and_held_at_their_ends():
    density = np.tile(np.arange(6.0) ** 2, (3, 1))
    moved = moved_by(density, np.array([0.0, 0.5, -2.0]))
    assert moved[0] == pytest.approx(density[0])
    assert moved[1] == pytest.approx([0.5, 2.5, 6.5, 12.5, 20.5, 25.0])
    assert moved[2] == pytest.approx([0.0, 0.0, 0.0, 1.0, 4.0, 9.0])


@pytest.mark.parametrize("terms", [2, 3])
def test_error_of_the_last_coefficient_is_that_of_the_normal_equations(terms):
    u = np.random.default_rng(5).uniform(-1, 1, 20)
    design = np.vander(u, terms, increasing=True)
    expected = np.sqrt(np.linalg.inv(design.T @ design)[-1, -1])
    assert 1 / own_length(design) == pytest.approx(expected)


def test_samples_that_scatter_count_less():
    rng = np.random.default_rng(6)
    off_mm, scatter = np.linspace(-1, 1, 41), np.where(np.arange(41) < 25, 0.002, 0.02)
    middle = rng.normal(size=41)
    density = middle + scatter * rng.standard_normal((300, 41))
    weights = weights_about(density, middle, off_mm, 0.5, 0.8)
    used = (off_mm > -0.5) & (off_mm < 0.8)
    robust = 1.4826 * np.median(np.abs(density - middle), axis=0)
    least = 0.5 * np.median(robust) + 1e-6
    assert weights == pytest.approx(used / np.maximum(robust, least) ** 2)


def test_pieces_moved_by_known_parts_of_a_sample_are_told():
    k = np.arange(61)
    off = np.random.default_rng(7).uniform(-0.4, 0.4, 12)

    def edge(place):
        return 1 / (1 + np.exp(-(k - place) / 3.0))

    density = np.array([edge(30.0 + d) for d in off])
    shifts, error = projected(density, edge(30.0), np.full(61, 1 / 0.01**2))
    assert shifts == pytest.approx(off, abs=0.02)
    soft = np.gradient(np.convolve(edge(30.0), [0.25, 0.5, 0.25], mode="same"))[2:-2]
    assert error == pytest.approx(0.01 / np.sqrt((soft**2).sum()), rel=1e-3)


def test_costs_are_those_of_plain_slices():
    rng = np.random.default_rng(8)
    density, middle, weights = rng.normal(size=(5, 40)), rng.normal(size=40), rng.random(40)
    costs = costs_of_shifts(density, middle, weights, 4, 0.8)
    for s in range(-4, 5):
        off = np.clip(density[:, 4 + s : 36 + s] - middle[4:36], -0.8, 0.8)
        assert costs[:, s + 4] == pytest.approx((off**2) @ weights[4:36])
