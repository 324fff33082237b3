import numpy as np

from proofkit.judgement.order import falls, step


def test_wear_is_a_fall_and_ink_is_none():
    rng = np.random.default_rng(0)
    hand = rng.normal(0, 0.01, 24)
    assert falls(hand - np.linspace(0, 0.06, 24))
    assert not falls(hand)
    assert not falls(hand + np.linspace(0, 0.06, 24))


def test_too_short_a_run_tells_nothing():
    assert not falls(-np.arange(7.0))


def test_a_new_batch_is_a_step_at_its_first_pull():
    values = np.random.default_rng(1).normal(0, 0.02, 20)
    values[12:] += 0.15
    found = step(values)
    assert found is not None
    assert found[0] == 12
    assert 0.12 < found[1] < 0.18


def test_missing_pulls_keep_their_place():
    values = np.random.default_rng(1).normal(0, 0.02, 20)
    values[12:] += 0.15
    values[3] = np.nan
    found = step(values)
    assert found is not None
    assert found[0] == 12


def test_a_single_odd_pull_is_no_step():
    values = np.random.default_rng(2).normal(0, 0.02, 20)
    values[9] += 0.3
    assert step(values) is None
