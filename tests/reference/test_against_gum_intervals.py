"""Few values, honestly widened: JCGM 100:2008 (GUM), 4.2, E.4.3 and G.3, and scipy's own t test."""

import numpy as np
import pytest
from scipy import stats

from proofkit.judgement.chance import p_values
from proofkit.judgement.spread import moderated, spread_bounds
from proofkit.judgement.values import relay_scatter


@pytest.mark.parametrize(("freedom", "t95"), [(4, 2.7764), (9, 2.2622), (24, 2.0639), (49, 2.0096)])
def test_t_factors_of_the_gum(freedom, t95):
    # GUM Table G.2, p = 95 %.
    assert p_values(np.array([t95]), np.array([float(freedom)]), "both")[0] == pytest.approx(
        0.05, abs=5e-6 * t95
    )


def test_one_new_value_against_few_agrees_with_a_two_sample_t_test():
    # A t test of one value against five, equal variances: the value is a sample of its own with no spread to add.
    good, new = np.array([1.02, 0.98, 1.05, 0.97, 1.01]), 1.20
    s = good.std(ddof=1)
    t = (new - good.mean()) / (s * np.sqrt(1 + 1 / good.size))
    ours = p_values(np.array([t]), np.array([4.0]), "both")[0]
    assert ours == pytest.approx(float(stats.ttest_ind([new], good).pvalue), rel=1e-12)


def test_bounds_of_a_spread_hold_it_as_often_as_they_say():
    rng = np.random.default_rng(1)
    spreads = rng.normal(0, 1, (4000, 4)).std(axis=1, ddof=1)
    low, high = spread_bounds(1.0, 3)
    held = ((spreads * low < 1) & (spreads * high > 1)).mean()
    assert held == pytest.approx(0.95, abs=3 * np.sqrt(0.95 * 0.05 / 4000))


def test_uncertainty_of_a_spread():
    # GUM E.4.3: a spread from n values has a relative uncertainty of about 1/sqrt(2(n-1)); 24 % at n = 10.
    rng = np.random.default_rng(2)
    spreads = rng.normal(0, 1, (4000, 10)).std(axis=1, ddof=1)
    assert spreads.std() == pytest.approx(0.236, abs=0.012)
    low, high = spread_bounds(1.0, 9, confidence=0.6827)
    assert (high - low) / 2 == pytest.approx(spreads.std(), rel=0.12)


def test_a_group_of_scans_scatters_like_its_sample_spread():
    # Ten readings: mean 100.72, s 0.107497 (any calculator).
    values = np.array([100.68, 100.83, 100.79, 100.64, 100.63, 100.94, 100.60, 100.68, 100.76, 100.65])
    scatter = relay_scatter(values, np.full(10, values.mean()), np.full(10, 10.0))
    assert scatter == pytest.approx(0.107497, abs=5e-7)


def test_moderation_is_a_weighted_mean_of_variances():
    # Smyth 2004, eq. after (3): (d0 s0^2 + d s^2) / (d0 + d); 4 x 9 and 2 x 3 make 42 / 6.
    assert moderated(np.array([3.0]), np.array([2.0]), 9.0, 4.0)[0] == pytest.approx(7.0)
