"""Mean squares and agreement: P. E. Shrout, J. L. Fleiss, Intraclass correlations, Psychol. Bull. 86 (1979) 420-428.

Six targets rated by four judges, the paper's table 2, as carried by the help of the R package psych 2.5.3.
"""

import numpy as np
import pytest

from proofkit.study.components import detectable_change, nested_components

RATINGS = np.array(
    [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], dtype=np.float64
)
TARGETS = np.repeat(np.arange(6), 4)


def test_one_way_components_give_the_published_intraclass_correlation():
    nested = nested_components(RATINGS.ravel(), np.zeros(24, dtype=np.intp), [("target", TARGETS)])
    target, within = nested.components
    assert target.sum_squares / target.freedom == pytest.approx(11.24167, abs=5e-6)
    assert within.sum_squares / within.freedom == pytest.approx(6.26389, abs=5e-6)
    assert target.variance / (target.variance + within.variance) == pytest.approx(0.165742, abs=5e-7)


def test_targets_that_are_only_what_was_measured_count_as_no_error():
    nested = nested_components(RATINGS.ravel(), TARGETS, [])
    assert nested.variance == pytest.approx(6.26389, abs=5e-6)
    assert nested.freedom == pytest.approx(18)


def test_minimal_detectable_change_of_the_consistency_error():
    # Residual mean square 1.01944 of the two-way table: SEM 1.009675, change 2.798677 (by formula, 1.96 √2 SEM).
    rest = RATINGS - RATINGS.mean(axis=0) - RATINGS.mean(axis=1, keepdims=True) + RATINGS.mean()
    sem = np.sqrt((rest**2).sum() / 15)
    assert sem == pytest.approx(1.009675, abs=5e-7)
    assert detectable_change(sem) == pytest.approx(2.798677, abs=5e-7)
