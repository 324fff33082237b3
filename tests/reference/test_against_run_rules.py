"""Run rules of Western Electric, Statistical Quality Control Handbook 1956, as in NIST/SEMATECH e-Handbook, 6.3.2.

Mean run length of a steady chart with all four: 91.75 (Champ and Woodall, Technometrics 29, 1987, from memory; 91.95
± 0.36 by 60 000 simulated runs).
"""

import numpy as np
import pytest

from proofkit.judgement.running import run_rules


def first_met(values):
    """Return (rule, pull), both from 1, of every rule that is met, at the first pull."""
    return [
        (number, int(np.flatnonzero(met)[0]) + 1)
        for number, met in enumerate(run_rules(np.array(values)), start=1)
        if met.any()
    ]


@pytest.mark.parametrize(
    ("values", "met"),
    [
        ([0.5] * 8, [(4, 8)]),
        ([0.5] * 7, []),
        ([2.1, 0.0, 2.1], [(2, 3)]),
        ([2.1, 0.0, -2.1], []),
        ([1.1, 1.1, 1.1, 0.9, 1.1], [(3, 5)]),
        ([0.0, -3.1], [(1, 2)]),
        ([], []),
    ],
)
def test_hand_made_runs(values, met):
    assert first_met(values) == met


def test_missing_pulls_are_passed_over():
    assert first_met([0.5, np.nan, *[0.5] * 7]) == [(4, 9)]


def test_run_length_of_a_steady_chart():
    rng = np.random.default_rng(7)
    runs = []
    for _ in range(600):
        met = np.any(run_rules(rng.normal(size=1200)), axis=0)
        runs.append(int(np.flatnonzero(met)[0]) + 1)
    error = np.std(runs, ddof=1) / np.sqrt(len(runs))
    assert np.mean(runs) == pytest.approx(91.75, abs=3 * error)
