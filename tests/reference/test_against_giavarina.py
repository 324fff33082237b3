"""Limits of agreement: Giavarina 2015 (data and source in the file beside); figures worked out by formula.

The paper takes the variance of a limit as 3 s²/n; its exact form (Bland and Altman 1999, from memory) is a little less.
"""

from pathlib import Path

import numpy as np
import pytest

from proofkit.study.agreement import agreement

A, B = np.loadtxt(
    Path(__file__).parent / "data" / "giavarina_2015.csv", delimiter=",", skiprows=3, unpack=True
)


def test_bias_and_limits():
    found = agreement(A, B)
    assert found.pairs == 30
    assert found.bias == pytest.approx(-27.16667, abs=5e-6)
    assert found.deviation == pytest.approx(34.80595, abs=5e-6)
    assert (found.lower, found.upper) == pytest.approx((-95.38632, 41.05299), abs=5e-6)
    assert (found.bias_low, found.bias_high) == pytest.approx((-40.1634, -14.1699), abs=5e-5)


def test_the_error_of_a_limit_is_near_the_papers_rounded_form():
    assert agreement(A, B).limit_error == pytest.approx(11.0066, rel=0.02)


def test_in_percent_of_the_mean():
    found = agreement(200 * (A - B) / (A + B), np.zeros(30))
    assert (found.bias, found.lower, found.upper) == pytest.approx((-17.400, -93.18, 58.38), abs=5e-3)


def test_two_pairs_are_too_few():
    with pytest.raises(ValueError, match="3 pairs"):
        agreement(A[:2], B[:2])
