"""Hotelling's T-squared: Ryan's 20 groups of 4, and the 56 single samples of Holmes and Mergen (sources in the files).

Ryan's book gives the limit 11.04 (from memory) and groups 10 and 20 beyond it; the single values were computed from the
data with another program. Holmes and Mergen's point is that a shift inflates the ordinary covariance and hides itself.
"""

from pathlib import Path

import numpy as np
import pytest

from proofkit.judgement.together import contributions, correlations, distances, successive_covariance

DATA = Path(__file__).parent / "data"
RYAN = np.loadtxt(DATA / "ryan_t2.csv", delimiter=",", skiprows=3)[:, 1:].reshape(20, 4, 2)
SINGLE = np.loadtxt(DATA / "holmes_mergen.csv", delimiter=",", skiprows=3)

RYAN_LIMIT = 11.04


def test_groups_of_ryan():
    means = RYAN.mean(axis=1)
    pooled = np.mean([np.cov(group.T) for group in RYAN], axis=0)
    assert means.mean(axis=0) == pytest.approx([60.375, 18.4875], abs=5e-5)
    squared = distances(means, means.mean(axis=0), pooled / 4)
    wanted = [2.2416, 0.6527, 1.2722, 0.2201, 1.5279, 8.9818, 1.3202, 3.7736, 4.9485, 63.7604,
              6.5510, 1.3674, 1.3632, 3.2561, 7.4099, 2.7638, 0.1243, 1.3265, 3.5039, 13.0376]  # fmt: skip
    assert squared == pytest.approx(wanted, abs=5e-5)
    assert (np.flatnonzero(squared > RYAN_LIMIT) + 1).tolist() == [10, 20]


def test_parts_add_up_to_the_distance():
    means = RYAN.mean(axis=1)
    pooled = np.mean([np.cov(group.T) for group in RYAN], axis=0) / 4
    parts = contributions(means, means.mean(axis=0), pooled)
    assert parts.sum(axis=1) == pytest.approx(distances(means, means.mean(axis=0), pooled))


def test_successive_differences_of_holmes_and_mergen():
    near = successive_covariance(SINGLE)
    assert [near[0, 0], near[0, 1], near[1, 1]] == pytest.approx([1.562455, -2.093091, 6.721091], abs=5e-7)
    squared = distances(SINGLE, SINGLE.mean(axis=0), near)
    assert squared[[25, 44, 51]] == pytest.approx([14.372, 17.666, 11.259], abs=5e-4)
    assert sorted(np.argsort(squared)[-3:]) == [25, 44, 51]


def test_the_ordinary_covariance_hides_the_shift():
    squared = distances(SINGLE, SINGLE.mean(axis=0), np.cov(SINGLE.T))
    assert squared.max() == pytest.approx(9.226, abs=5e-4)
    assert int(np.argmax(squared)) == 25


def test_correlations_of_few_pulls_are_drawn_towards_none():
    rng = np.random.default_rng(9)
    together = rng.standard_normal((200, 1)) @ np.ones((1, 3)) + 0.3 * rng.standard_normal((200, 3))
    # True correlation 1 / 1.09; many pulls know it, six independent ones hardly leave anything.
    assert correlations(together)[0, 1] == pytest.approx(1 / 1.09, abs=0.03)
    loose = [abs(correlations(rng.standard_normal((6, 3)))[0, 1]) for _ in range(200)]
    assert np.mean(loose) < 0.15
    assert correlations(rng.standard_normal((4, 3))).tolist() == np.eye(3).tolist()
