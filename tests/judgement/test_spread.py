import numpy as np
import pytest

from proofkit.judgement.spread import common_variance, moderated


def test_the_common_variance_of_like_spreads_is_theirs():
    rng = np.random.default_rng(0)
    variance = rng.normal(0, 3.0, (400, 6)).var(axis=1, ddof=1)
    level, freedom = common_variance(variance, np.full(400, 5.0))
    assert np.sqrt(level) == pytest.approx(3.0, rel=0.05)
    assert freedom > 20


def test_unlike_spreads_are_drawn_together_less():
    # Variances that are themselves scaled inverse chi-square with 6 degrees of freedom about 1 (Smyth 2004, section 3).
    rng = np.random.default_rng(1)
    true = 6.0 / rng.chisquare(6.0, 3000)
    sample = true * rng.chisquare(4.0, 3000) / 4.0
    level, freedom = common_variance(sample, np.full(3000, 4.0))
    assert freedom == pytest.approx(6.0, rel=0.25)
    assert level == pytest.approx(1.0, rel=0.15)
    kept = moderated(sample, np.full(3000, 4.0), level, freedom)
    assert ((kept - true) ** 2).mean() < ((sample - true) ** 2).mean()


def test_two_spreads_have_nothing_in_common_yet():
    assert common_variance(np.array([1.0, 2.0]), np.array([3.0, 3.0]))[1] == 0.0


def test_spreads_of_zero_do_not_pull_the_common_one_to_zero():
    level, _ = common_variance(np.array([0.0, 1.0, 1.2, 0.9]), np.full(4, 5.0))
    assert 0.5 < level < 2.0
