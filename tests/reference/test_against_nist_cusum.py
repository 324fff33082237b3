"""Tabular CUSUM of NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.3, and run lengths of such charts.

Read as transcribed in a public test file. The handbook prints two decimals and rounds half-way cases both ways.
"""

import numpy as np
import pytest

from proofkit.judgement.running import CUSUM_ALLOWANCE, CUSUM_LIMIT, cusum

TARGET, ALLOWANCE, LIMIT = 325.0, 0.3175, 4.1959
MEANS = np.array(
    [324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
     324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350]
)  # fmt: skip
HIGH = np.array(
    [
        0,
        0,
        0,
        0,
        0.0325,
        0,
        0,
        0,
        0,
        0,
        0,
        0,
        3.0075,
        4.9400,
        7.4475,
        10.6300,
        11.9875,
        14.4450,
        16.0025,
        19.0350,
    ]
)
LOW = np.array([0, 0.0075, 0, 0.3325, 0, 0, 0.5575, 0.7150, 0.1725, 0.2550, 0.3125, 0, *[0.0] * 8])


def test_sums_and_signals():
    sums = cusum(MEANS - TARGET, ALLOWANCE)
    assert sums.high == pytest.approx(HIGH, abs=0.005)
    assert sums.low == pytest.approx(LOW, abs=0.005)
    assert (np.flatnonzero(sums.high > LIMIT) + 1).tolist() == list(range(14, 21))
    # The shift is dated from the first mean after the last sum of zero: the thirteenth.
    assert sums.onset(13, is_high=True) == 12


@pytest.mark.parametrize(("shift", "length"), [(0.0, 465.43), (1.0, 10.376), (2.0, 4.009)])
def test_run_length_with_the_settings_in_use(shift, length):
    # Two-sided, allowance 0.5, limit 5: by the integral equation; 465 is the published rounding (from memory).
    rng = np.random.default_rng(6)
    runs = []
    for _ in range(400):
        sums = cusum(rng.normal(shift, 1.0, 4000 if shift == 0 else 100), CUSUM_ALLOWANCE)
        out = np.flatnonzero(np.maximum(sums.high, sums.low) > CUSUM_LIMIT)
        runs.append(out[0] + 1 if out.size else 4000)
    error = np.std(runs, ddof=1) / np.sqrt(len(runs))
    assert np.mean(runs) == pytest.approx(length, abs=3 * error)
