"""Scatter and level of pieces along an edge, by formula and by numpy."""

import numpy as np
import pytest

from proofkit.frame.piece_kernels import block_medians, levelled, marks_on_blocks, noise_of_median
from proofkit.frame.pieces import Pieces, middles_of, scatter_of
from proofkit.frame.profile import find_mark
from proofkit.frame.sharp import step_filter

T_MM = np.linspace(-2, 2, 81)


def pieces(density):
    count = len(density)
    return Pieces(
        np.ones(count, dtype=bool), np.arange(count, dtype=float), density, np.zeros(count), (0, 81), T_MM
    )


def test_scatter_is_that_of_normal_values():
    rng = np.random.default_rng(1)
    density = rng.normal(0, 0.02, (200, 81)) + rng.normal(0, 0.1, (200, 1))
    density[:, 60:] *= 30  # not looked at
    # Of 12000 values the standard deviation is known to 1 %.
    assert scatter_of(pieces(density), np.zeros(81), -3.0, 0.97) == pytest.approx(0.02, rel=0.03)


def test_where_nothing_is_chosen_nothing_is_known():
    assert np.isnan(scatter_of(pieces(np.zeros((4, 81))), np.zeros(81), 2.5, 3.0))


def test_noise_of_a_median_is_that_of_many_drawn_anew():
    rng = np.random.default_rng(2)
    density = rng.normal(0, 0.01, (60, 400))
    drawn = np.median(rng.normal(0, 0.01, (60, 4000)), axis=0).std()
    noise = noise_of_median(density, np.median(density, axis=0), 0, 400)
    assert noise == pytest.approx(drawn, rel=0.1)


def test_profiles_are_levelled_by_the_quieter_half_of_their_outside():
    rng = np.random.default_rng(3)
    level = rng.uniform(-0.02, 0.02, 50)
    density = level[:, None] + rng.normal(0, 0.001, (50, 60))
    density[:, 3:8] += 0.2  # writing in the farther half
    above, outside, half = levelled(density, (0, 10, 20))
    assert half == 1
    # A quantile near the middle of ten normal values scatters by 0.4 of their standard deviation (order statistics).
    assert np.sqrt(np.mean((outside - level) ** 2)) < 0.0006
    assert abs(np.mean(outside - level)) < 0.0003
    assert above == pytest.approx(density.astype(float) - outside[:, None])
    assert np.median(above[:, 20:]) == pytest.approx(0, abs=2e-4)


def test_marks_on_blocks_are_those_of_their_medians():
    rng = np.random.default_rng(4)
    density = 0.05 * (np.linspace(-0.2, 0.2, 23)[:, None] < T_MM) + rng.normal(0, 0.004, (23, 81))
    steps = step_filter(float(T_MM[1] - T_MM[0]))
    reads, middles = marks_on_blocks(density, 5, (0, 20), T_MM, 0.6, steps)
    blocks = [density[k : k + 5] for k in range(0, 20, 5)]
    assert (middles == [np.median(block, axis=0) for block in blocks]).all()
    assert (block_medians(density, 5) == middles).all()
    for read, middle, block in zip(reads, middles, blocks, strict=True):
        mark = find_mark(middle, T_MM, noise_of_median(block, middle, 0, 20), 0.6)
        assert mark is not None
        assert read[1:4].tolist() == [mark.place_mm, mark.u_mm, mark.strength]
    assert middles_of(pieces(density), 5) == [2.0, 7.0, 12.0, 17.0]
