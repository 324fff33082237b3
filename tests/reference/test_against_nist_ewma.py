"""EWMA chart of NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.4, and run lengths of such charts.

Read as transcribed in a public test file; the printed limits were made with a rounded factor (0.4201), so that the
lower one is 47.4115 for 47.41157.
"""

import numpy as np
import pytest

from proofkit.judgement.running import SMOOTHING, ewma

CENTRE, SPREAD = 50.0, 2.0539
VALUES = np.array(
    [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
     49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
)  # fmt: skip
PRINTED = np.array(
    [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
     50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99]
)  # fmt: skip


def test_averages_and_limits():
    chart = ewma((VALUES - CENTRE) / SPREAD, 0.3, 3.0)
    assert CENTRE + SPREAD * chart.values == pytest.approx(PRINTED, abs=0.0051)
    assert CENTRE + SPREAD * chart.reach[-1] == pytest.approx(52.5884, abs=5e-4)
    assert not chart.signals.any()


def test_limits_grow_to_their_final_size():
    # From the variance of a weighted mean of i values, worked out by hand from the formula of that section.
    reach = ewma(np.zeros(10), 0.3, 3.0).reach
    wanted = np.array([51.8485, 52.2564, 52.4314, 52.5516, 52.5874])
    assert CENTRE + SPREAD * reach[[0, 1, 2, 4, 9]] == pytest.approx(wanted, abs=5e-5)


@pytest.mark.parametrize(("shift", "length"), [(0.0, 500.0), (1.0, 10.5), (2.0, 3.74)])
def test_run_length_with_the_smoothing_in_use(shift, length):
    # 0.2 and 2.962: 500 without a shift (published, from memory), 10.54 and 3.74 by the integral equation for a chart
    # with limits of final size; limits that grow signal a little sooner.
    rng = np.random.default_rng(5)
    runs = []
    for _ in range(400):
        chart = ewma(rng.normal(shift, 1.0, 4000 if shift == 0 else 100), SMOOTHING, 2.962)
        out = np.flatnonzero(np.abs(chart.values) > chart.reach[-1])
        runs.append(out[0] + 1 if out.size else 4000)
    error = np.std(runs, ddof=1) / np.sqrt(len(runs))
    assert np.mean(runs) == pytest.approx(length, abs=3 * error)


def test_a_missing_pull_leaves_the_mean_where_it_is():
    with_gap = ewma(np.array([1.0, np.nan, 1.0]), 0.5, 3.0).values
    assert with_gap.tolist() == [0.5, 0.5, 0.75]
