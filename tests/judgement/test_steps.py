import numpy as np

from proofkit.judgement.steps import best_step, levels


def test_a_new_batch_is_a_step_at_its_first_pull():
    values = np.random.default_rng(1).normal(0, 0.02, 20)
    values[12:] += 0.15
    found = best_step(values)
    assert found is not None
    assert found.first == 12
    assert 0.12 < found.height < 0.18
    assert found.p < 1e-6


def test_two_pulls_at_the_end_make_a_level():
    values = np.random.default_rng(3).normal(0, 0.02, 20)
    values[18:] += 0.15
    assert levels(values, 0.01) == (18,)


def test_missing_pulls_keep_their_place():
    values = np.random.default_rng(1).normal(0, 0.02, 20)
    values[12:] += 0.15
    values[[3, 12]] = np.nan
    assert levels(values, 0.01) == (13,)


def test_a_single_odd_pull_is_no_level():
    values = np.random.default_rng(2).normal(0, 0.02, 20)
    values[9] += 0.3
    assert levels(values, 0.01) == ()


def test_a_level_that_comes_back_has_two_bounds():
    values = np.random.default_rng(4).normal(0, 0.02, 24)
    values[8:16] -= 0.2
    assert levels(values, 0.01) == (8, 16)


def test_steps_are_looked_for_where_another_ink_is_noted():
    values = np.random.default_rng(5).normal(0, 0.02, 20)
    values[12:] += 0.15
    assert levels(values, 0.01, (3, 12)) == (12,)
    assert levels(np.random.default_rng(6).normal(size=20), 0.01, (3, 12)) == ()


def test_a_steady_run_steps_no_oftener_than_stated():
    # The chance is that of any step in the run; at 5 % some 15 of 300 runs may show one.
    rng = np.random.default_rng(6)
    called = sum(bool(levels(rng.normal(size=24), 0.05)) for _ in range(300))
    assert called <= 15 + 2 * np.sqrt(15)
