"""Distance of tone distributions against `scipy.stats.wasserstein_distance` and closed forms.

Closed forms of the Wasserstein-1 distance in one dimension, the area between the distribution functions
(S. S. Vallender, Theory Probab. Appl. 18 (1974) 784-786).
"""

import numpy as np
import pytest
from scipy.stats import wasserstein_distance

from proofkit.edition import HISTOGRAM_BINS, HISTOGRAM_START_DENSITY, HISTOGRAM_STEP_DENSITY
from proofkit.measures.tone import histogram_distance, tone_histogram
from tests.measures.coding import tallied

CENTRES = HISTOGRAM_START_DENSITY + HISTOGRAM_STEP_DENSITY * (np.arange(HISTOGRAM_BINS) + 0.5)


def bins(*counts, start=40, apart=1):
    """Counts in bins from `start` on."""
    result = np.zeros(HISTOGRAM_BINS, dtype=np.int64)
    result[start : start + apart * len(counts) : apart] = counts
    return result


def distance_in_bins(one, other):
    return histogram_distance(one, other) / HISTOGRAM_STEP_DENSITY


@pytest.mark.parametrize("seed", range(6))
def test_against_scipy(seed):
    rng = np.random.default_rng(seed)
    one, other = rng.integers(0, 500, (2, HISTOGRAM_BINS)) * (rng.random((2, HISTOGRAM_BINS)) < 0.3)
    expected = wasserstein_distance(CENTRES, CENTRES, one, other)
    assert histogram_distance(one, other) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        ((1, 0), (0, 1), 1.0),  # point masses one bin apart
        ((3, 1), (2, 2), 0.25),
        ((10, 20, 40, 20, 10), (20, 30, 30, 10, 10), 0.4),
        ((2, 1, 3, 0), (1, 2, 1, 2), 0.5),  # samples 0 0 1 2 2 2 against 0 1 1 2 3 3
        ((1, 1, 0, 1, 0, 0, 0, 0, 0), (0, 0, 0, 0, 0, 1, 1, 0, 1), 5.0),  # samples 0 1 3 against 5 6 8
    ],
)
def test_closed_forms(one, other, expected):
    assert distance_in_bins(bins(*one), bins(*other)) == pytest.approx(expected, rel=1e-12)


def test_a_shift_is_its_own_distance():
    counts = bins(4, 9, 30, 12, 5)
    assert distance_in_bins(counts, np.roll(counts, 17)) == pytest.approx(17, rel=1e-12)


def test_normal_tones_of_different_spread():
    """``|s1 - s2| sqrt(2 / pi)`` for normal distributions of the same mean."""
    rng = np.random.default_rng(1)
    standard = rng.standard_normal(400_000)
    one, other = (tone_histogram(tallied(10 ** -(0.7 + s * standard))) for s in (0.05, 0.10))
    assert histogram_distance(one, other) == pytest.approx(0.05 * np.sqrt(2 / np.pi), rel=0.01)
