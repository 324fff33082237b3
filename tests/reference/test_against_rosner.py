"""Generalised ESD test: Rosner's 54 values (NIST/SEMATECH e-Handbook, 1.3.5.17.3) and naphthalene (USEPA 2009).

Values read in ROSNER.DAT of usnistgov/dataplot (public domain); results as printed by the handbook and by the help of
the R package EnvStats 3.1.0.
"""

import numpy as np
import pytest

from proofkit.judgement.outliers import deviates, stray_limit, strays

ROSNER = np.array(
    [-0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56, 1.58, 1.65, 1.69, 1.70,
     1.76, 1.77, 1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.10, 2.14, 2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40,
     2.47, 2.54, 2.62, 2.64, 2.90, 2.92, 2.92, 2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01]
)  # fmt: skip


def test_three_strays_hide_each_other():
    sizes, passed, order = deviates(ROSNER, 10)
    # Printed with three decimals: 3.118 for 3.1189 is cut, not rounded.
    assert sizes[:5] == pytest.approx([3.1189, 2.9430, 3.1794, 2.8102, 2.8156], abs=5e-5)
    limits = [stray_limit(54, number) for number in range(1, 6)]
    assert limits == pytest.approx([3.1588, 3.1514, 3.1439, 3.1362, 3.1282], abs=5e-5)
    assert passed[:5].tolist() == [False, False, True, False, False]
    assert ROSNER[order[:3]].tolist() == [6.01, 5.42, 5.34]
    assert sorted(ROSNER[strays(ROSNER, 10)]) == [5.34, 5.42, 6.01]


def test_limits_for_twenty_five_values():
    # USEPA Unified Guidance 2009, Example 12-4 (naphthalene): limits of the first two of 25.
    assert [stray_limit(25, 1), stray_limit(25, 2)] == pytest.approx([2.821681, 2.801551], abs=5e-7)


def test_a_clean_sample_has_strays_no_oftener_than_stated():
    rng = np.random.default_rng(8)
    called = sum(strays(rng.normal(size=25), 3).any() for _ in range(400))
    assert called <= 20 + 2 * np.sqrt(20)


def test_too_few_values_have_none():
    assert not strays(np.array([0.0, 0.1, 0.0, 50.0]), 1).any()
