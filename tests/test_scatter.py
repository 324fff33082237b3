"""The scatter of values with strays, against statsmodels."""

import numpy as np
import pytest
from statsmodels.robust.scale import mad

from proofkit.scatter import robust_sd


def test_it_is_the_scaled_median_absolute_deviation():
    """statsmodels.robust.scale.mad, as reference."""
    values = np.random.default_rng(3).standard_t(2, 501)
    assert robust_sd(values) == pytest.approx(mad(values), rel=1e-5)
    assert robust_sd(values, about=0.3) == pytest.approx(mad(values, center=0.3), rel=1e-5)


def test_strays_do_not_lead_it():
    values = np.random.default_rng(4).normal(0, 2.0, 4000)
    values[::10] = 1e6
    assert robust_sd(values) == pytest.approx(2.0, rel=0.2)
