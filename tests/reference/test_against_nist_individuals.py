"""Individuals chart of NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.2 (flow rates, ten batches)."""

import numpy as np
import pytest

from proofkit.judgement.spread import run_limits

FLOW_RATE = np.array([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])


def test_limits_of_the_flow_rates():
    limits = run_limits(FLOW_RATE)
    # Printed: centre 50.81, limits 55.8041 and 45.8159, with d2 rounded to 1.128 where 2/sqrt(pi) = 1.12838.
    assert limits.centre == pytest.approx(50.81, abs=0.005)
    assert limits.spread * 1.12838 == pytest.approx(1.8778, abs=5e-5)
    assert limits.upper == pytest.approx(55.8041, abs=0.002)
    assert limits.lower == pytest.approx(45.8159, abs=0.002)
    assert ((limits.lower < FLOW_RATE) & (limits.upper > FLOW_RATE)).all()


def test_a_missing_batch_joins_its_neighbours():
    with_gap = np.insert(FLOW_RATE, 4, np.nan)
    assert run_limits(with_gap) == run_limits(FLOW_RATE)
