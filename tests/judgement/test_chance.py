import numpy as np
import pytest
from scipy import stats

from proofkit.judgement.chance import DEPENDENCE, combined, p_values


@pytest.mark.parametrize("shared", [0.0, 0.3, 0.7, 0.95])
@pytest.mark.parametrize("one_sided", [False, True])
@pytest.mark.parametrize("level", [0.02, 0.05])
def test_combined_holds_its_level_however_tests_rise_and_fall_together(shared, one_sided, level):
    # A hundred tests of one sheet that share part of their variance; 2000 good sheets, three standard errors.
    rng = np.random.default_rng(4)
    z = np.sqrt(shared) * rng.normal(size=(2000, 1)) + np.sqrt(1 - shared) * rng.normal(size=(2000, 100))
    p = stats.norm.sf(z) if one_sided else 2 * stats.norm.sf(np.abs(z))
    called = np.mean([combined(row, np.ones(100)) <= level for row in p])
    assert called <= level + 3 * np.sqrt(level * (1 - level) / 2000)


def test_combined_keeps_the_power_of_one_strong_test():
    # One of fifty tests at 1e-5: Bonferroni would say 5e-4; the combination may cost its factor and no more.
    p = np.full(50, 0.5)
    p[7] = 1e-5
    assert combined(p, np.ones(50)) <= DEPENDENCE * 5e-4 * 1.01


def test_several_noticeable_tests_add_up():
    few, many = np.full(50, 0.5), np.full(50, 0.5)
    few[:1], many[:10] = 0.005, 0.005
    assert combined(many, np.ones(50)) < combined(few, np.ones(50)) / 5


def test_combined_agrees_with_the_closed_form_of_its_authors():
    # Liu and Xie 2020: equal p-values combine to themselves; the factor for dependence comes on top.
    for value in (0.001, 0.02, 0.3):
        assert combined(np.full(9, value), np.arange(1.0, 10.0)) == pytest.approx(
            DEPENDENCE * value, rel=1e-9
        )


def test_nothing_tested_is_no_evidence():
    assert combined(np.array([np.nan, np.nan]), np.ones(2)) == 1.0


def test_sides_share_the_chance():
    z, freedom = np.array([2.0]), np.array([7.0])
    upper = p_values(z, freedom, "upper")[0]
    lower = p_values(z, freedom, "lower")[0]
    assert upper + lower == pytest.approx(1.0)
    assert p_values(z, freedom, "both")[0] == pytest.approx(2 * upper)
