"""Scatter of pieces along an edge, by formula."""

import numpy as np
import pytest

from proofkit.frame.pieces import Pieces, scatter_of


def pieces(density):
    count, samples = density.shape
    return Pieces(
        np.ones(count, dtype=bool), np.arange(count, dtype=float), density, np.zeros(count),
        np.ones(samples, dtype=bool), np.linspace(-2, 2, samples),
    )  # fmt: skip


def test_scatter_is_that_of_normal_values():
    rng = np.random.default_rng(1)
    density = rng.normal(0, 0.02, (200, 81)) + rng.normal(0, 0.1, (200, 1))
    chosen = np.ones(81, dtype=bool)
    # Of 16000 values the standard deviation is known to 1 %.
    assert scatter_of(pieces(density), np.zeros(81), chosen) == pytest.approx(0.02, rel=0.03)


def test_where_nothing_is_chosen_nothing_is_known():
    assert np.isnan(scatter_of(pieces(np.zeros((4, 9))), np.zeros(9), np.zeros(9, dtype=bool)))
