"""Medians are numpy's, bit for bit."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from proofkit.frame.medians import median, median_profile

ROWS = arrays.arrays(
    np.float64, st.tuples(st.integers(1, 9), st.integers(1, 7)), elements=st.floats(-1e6, 1e6, width=64)
)


@given(ROWS)
def test_of_all_values(values):
    assert median(values) == np.median(values)


@given(ROWS)
def test_sample_by_sample(values):
    assert (median_profile(values) == np.median(values, axis=0)).all()
    assert (median_profile(values.T) == np.median(values, axis=1)).all()
