"""Fifteen p-values of Benjamini and Hochberg, J. R. Stat. Soc. B 57 (1995) 289-300, section 3.2.

Adjusted values as printed by two libraries that agree with each other: scipy.stats.false_discovery_control and
statsmodels.stats.multitest.multipletests.
"""

import numpy as np
from scipy import stats
from statsmodels.stats.multitest import multipletests

from proofkit.judgement.chance import adjusted

P = np.array(
    [
        0.0001,
        0.0004,
        0.0019,
        0.0095,
        0.0201,
        0.0278,
        0.0298,
        0.0344,
        0.0459,
        0.3240,
        0.4262,
        0.5719,
        0.6528,
        0.7590,
        1,
    ]
)


def test_four_are_called_at_five_percent():
    # The paper: four hypotheses fall at q = 0.05, three by Bonferroni.
    assert (adjusted(P) <= 0.05).sum() == 4
    assert (P * P.size <= 0.05).sum() == 3


def test_adjusted_values_agree_with_two_libraries_in_any_order():
    order = np.random.default_rng(3).permutation(P.size)
    ours = adjusted(P[order])
    np.testing.assert_allclose(ours, stats.false_discovery_control(P[order]), rtol=1e-12)
    np.testing.assert_allclose(ours, multipletests(P[order], method="fdr_bh")[1], rtol=1e-12)


def test_what_was_not_tested_does_not_count():
    padded = np.concatenate((P, np.full(20, np.nan)))
    np.testing.assert_array_equal(adjusted(padded)[: P.size], adjusted(P))
    assert np.isnan(adjusted(padded)[P.size :]).all()
