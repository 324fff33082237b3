"""Parts of the line measures whose answer follows from algebra or statistics."""

import numpy as np
import pytest

from proofkit.laying.standard_lines import smooth_along
from proofkit.measures.lines import _rough, _u_median


def test_uncertainty_of_a_median_of_lines():
    """Against the scatter of medians of 3000 drawn samples: 60 normal lines, one crossing each."""
    rng = np.random.default_rng(1)
    samples = rng.normal(50, 4, (3000, 60))
    stated = np.mean([_u_median(sample, np.arange(60)) for sample in samples[:300]])
    assert stated == pytest.approx(np.std(np.median(samples, axis=1)), rel=0.08)


def test_crossings_of_one_line_count_as_one():
    values = np.random.default_rng(2).normal(50, 4, 400)
    alone, lines_of_ten = _u_median(values, np.arange(400)), _u_median(values, np.arange(400) // 10)
    assert lines_of_ten / alone == pytest.approx(np.sqrt(10), rel=1e-9)


def test_raggedness_is_the_spread_about_a_smooth_course():
    """White noise of 4 µm on an edge that swings slowly reads 4 µm (second differences have sqrt(6) of it)."""
    rng = np.random.default_rng(3)
    n = 4000
    edge = 0.05 * np.sin(np.arange(n) / 40) + rng.normal(0, 0.004, n)
    one_line = np.zeros(n, dtype=int)
    assert _rough(edge, np.ones(n, dtype=bool), one_line) == pytest.approx(0.004, rel=0.05)
    assert np.isnan(_rough(edge, np.zeros(n, dtype=bool), one_line))


def test_smoothing_keeps_to_one_line_and_passes_over_gaps():
    values = np.array([1.0, 1, 9, 1, 1, 5, 5, np.nan, 5, np.nan])
    line = np.array([0, 0, 0, 0, 0, 1, 1, 1, 1, 2])
    smooth = smooth_along(values, line, 1)
    assert smooth[:5].tolist() == [1, 1, 1, 1, 1]
    assert smooth[5:9].tolist() == [5, 5, 5, 5]
    assert np.isnan(smooth[9])
    assert len(smooth_along(np.empty(0), np.empty(0, dtype=np.int32), 3)) == 0
