"""Compiled loops against numpy and scipy."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from proofkit.frame.kernels import best_runs, straighten


@settings(max_examples=30, deadline=None)
@given(
    st.floats(30, 70),
    st.floats(-0.06, 0.06),
    st.floats(-2e-4, 2e-4),
    st.sampled_from([1, -1]),
)
def test_straightened_profiles_are_scipys_linear_interpolation(
    place: float, slope: float, bend: float, inward: int
) -> None:
    plane = ndimage.gaussian_filter(np.random.default_rng(2).normal(3e4, 9e3, (100, 120)), 2).astype(
        np.uint16
    )
    line = np.array([60.0, place, slope, bend])
    bounds = np.array([40.0, 50.0, 60.0, 75.0])
    profiles = straighten(plane, line, bounds, inward, 12, 1)
    for piece, (a, b) in enumerate(pairwise(bounds)):
        x = np.arange(a, b)
        d = x - line[0]
        y = line[1] + line[2] * d + line[3] * d**2
        t = inward * np.arange(-12, 13)[:, None]
        sampled = ndimage.map_coordinates(
            plane.astype(np.float64), [y + t, np.broadcast_to(x, (25, len(x)))], order=1
        )
        assert profiles[piece] == pytest.approx(sampled.mean(axis=1), rel=1e-5)


def test_profiles_that_leave_the_plane_are_empty() -> None:
    plane = np.full((50, 60), 1000, np.uint16)
    profiles = straighten(plane, np.array([30.0, 5.0, 0.5, 0.0]), np.array([0.0, 30.0, 60.0]), 1, 10, 1)
    assert np.isnan(profiles[0]).all()
    assert profiles[1] == pytest.approx(np.full(21, 1000.0))


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000))
def test_best_run_is_the_one_of_exhaustive_search(seed: int) -> None:
    evidence = np.random.default_rng(seed).random((7, 30)).astype(np.float32)
    slopes = np.array([-1.0, 0.0, 1.0])
    score, _, _ = best_runs(evidence, slopes, 0.4)
    for j in range(8, 22):
        best = 0.0
        for slope in slopes:
            along = [evidence[k, j + round(slope * (k - 3.0))] - 0.4 for k in range(7)]
            best = max(best, *(sum(along[a:b]) for a in range(7) for b in range(a + 1, 8)))
        assert score[j] == pytest.approx(best, abs=1e-5)
