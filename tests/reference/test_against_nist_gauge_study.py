"""Nested repeatability: NIST/SEMATECH e-Handbook 2.4.4 (resistivity gauge), data and source in the file beside."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from proofkit.study.components import nested_components

DAYS = pd.read_csv(Path(__file__).parent / "data" / "nist_mpc441.csv", comment="#")
READINGS = 6


@pytest.fixture(scope="module")
def nested():
    """Six readings for each day that have the published mean and standard deviation."""
    pattern = np.array([-1.0, -1.0, -1.0, 1.0, 1.0, 1.0])
    readings = np.outer(DAYS["sd"], pattern / pattern.std(ddof=1)) + DAYS["mean"].to_numpy()[:, None]
    runs = np.repeat(DAYS["run"].to_numpy(dtype=np.intp), READINGS)
    days = np.repeat(DAYS["day"].to_numpy(dtype=np.intp), READINGS)
    nothing = np.zeros(readings.size, dtype=np.intp)
    return nested_components(readings.ravel(), nothing, [("run", runs), ("day", days)])


def test_repeatability_is_the_published_level_1(nested):
    lay = nested.components[-1]
    assert lay.freedom == 60
    assert lay.sum_squares == pytest.approx(0.37176, abs=5e-6)
    assert np.sqrt(lay.variance) == pytest.approx(0.07871, abs=5e-6)


def test_the_component_of_days_is_negative_and_counts_as_none(nested):
    # s2 = 0.0274216 (10 degrees of freedom, by arithmetic from the published means): s2² - s1²/6.
    day = nested.components[1]
    assert day.freedom == 10
    assert np.sqrt(day.sum_squares / day.freedom / READINGS) == pytest.approx(0.0274216, abs=5e-8)
    assert day.raw_variance == pytest.approx(0.0274216**2 - 0.0787144**2 / 6, rel=1e-4)
    assert day.variance == 0.0


def test_the_component_of_runs_follows_from_the_run_means(nested):
    # Run means 96.035733 and 96.076533, s3 = 0.0288500: s3² - s2²/6.
    run = nested.components[0]
    assert run.freedom == 1
    assert run.raw_variance == pytest.approx(0.02885**2 - 0.0274216**2 / 6, rel=1e-4)
