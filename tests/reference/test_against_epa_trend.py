"""Mann-Kendall test and slope: USEPA Unified Guidance 2009, Example 17-6 (data in the file beside) and 17-7."""

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from proofkit.judgement.order import mann_kendall, theil_sen

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


def test_slope_of_sulfate():
    data = np.loadtxt(
        Path(__file__).parent / "data" / "epa_2009_ex17_6_sulfate.csv", delimiter=",", skiprows=4
    )
    slope = theil_sen(data[:, 1], data[:, 0])
    # Dates are year.month written as a decimal, so the slope is per such year. Limits as EnvStats 3.1.0 gives them.
    assert slope.slope == pytest.approx(26.66667, abs=5e-6)
    assert slope.intercept == pytest.approx(-1909.3333, abs=5e-5)
    assert (slope.lower, slope.upper) == pytest.approx((20.0, 35.71182), abs=5e-6)


def test_slope_of_sodium():
    # USEPA 2009, Example 17-7: slope 1.33, S 25, variance 125, z 2.147.
    dates = np.array([89.6, 90.1, 90.8, 91.1, 92.1, 93.1, 94.1, 95.6, 96.1, 96.3])
    sodium = np.array([56.0, 53, 51, 55, 52, 60, 62, 59, 61, 63])
    slope = theil_sen(sodium, dates)
    assert slope.slope == pytest.approx(1.333333, abs=5e-7)
    assert slope.upper == pytest.approx(2.3333, abs=5e-5)
    trend = mann_kendall(sodium)
    assert (trend.s, trend.variance) == (25, 125)
    assert trend.z == pytest.approx(2.146625, abs=5e-7)
