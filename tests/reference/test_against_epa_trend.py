"""Mann-Kendall test: USEPA Unified Guidance 2009, Example 17-6 (data and source in the file beside)."""

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from proofkit.judgement.order import mann_kendall

SULFATE = np.loadtxt(
    Path(__file__).parent / "data" / "epa_2009_ex17_6_sulfate.csv", delimiter=",", skiprows=4
)[:, 1]


def test_sulfate_rises():
    trend = mann_kendall(SULFATE)
    assert trend.s == 194
    assert trend.variance == pytest.approx(1428, abs=0.5)
    assert trend.z == pytest.approx(5.107322, abs=5e-7)
    assert trend.p == pytest.approx(3.267574e-7, rel=1e-6)


def test_tau_b_agrees_with_a_library():
    trend = mann_kendall(SULFATE)
    _, ties = np.unique(SULFATE, return_counts=True)
    pairs = SULFATE.size * (SULFATE.size - 1) / 2
    tau_b = trend.s / np.sqrt(pairs * (pairs - (ties * (ties - 1) / 2).sum()))
    assert tau_b == pytest.approx(stats.kendalltau(np.arange(SULFATE.size), SULFATE).statistic, rel=1e-12)


@pytest.mark.parametrize(
    ("n", "s", "z", "p"),
    # A perfect rise; z and p as given by the library pymannkendall 1.4.3.
    [(10, 45, 3.935480, 8.303070e-5), (5, 10, 2.204541, 0.0274863)],
)
def test_a_perfect_rise(n, s, z, p):
    trend = mann_kendall(np.arange(n, dtype=np.float64))
    assert trend.s == s
    assert trend.z == pytest.approx(z, abs=5e-7)
    assert trend.p == pytest.approx(p, rel=1e-5)
