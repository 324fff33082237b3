import numpy as np
import pytest
from scipy import stats

from proofkit.judgement.chance import p_values, simes


def test_simes_holds_its_level_when_tests_rise_and_fall_together():
    # Ten tests of one sheet with a common part: the chance of p <= 0.05 must not pass 0.05.
    rng = np.random.default_rng(4)
    z = 0.8 * rng.normal(size=(4000, 1)) + 0.6 * rng.normal(size=(4000, 10))
    p = 2 * stats.norm.sf(np.abs(z))
    called = np.mean([simes(row) <= 0.05 for row in p])
    assert called <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 4000)


def test_simes_is_exact_for_independent_tests():
    # Simes 1986: exactly alpha when all tests are independent and nothing is there.
    rng = np.random.default_rng(5)
    called = np.mean([simes(row) <= 0.05 for row in rng.uniform(size=(8000, 12))])
    assert called == pytest.approx(0.05, abs=3 * np.sqrt(0.05 * 0.95 / 8000))


def test_nothing_tested_is_no_evidence():
    assert simes(np.array([np.nan, np.nan])) == 1.0


def test_sides_share_the_chance():
    z, freedom = np.array([2.0]), np.array([7.0])
    upper = p_values(z, freedom, "upper")[0]
    lower = p_values(z, freedom, "lower")[0]
    assert upper + lower == pytest.approx(1.0)
    assert p_values(z, freedom, "both")[0] == pytest.approx(2 * upper)
