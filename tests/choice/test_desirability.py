"""Forms of Derringer and Suich 1980, in the notation of the NIST/SEMATECH e-Handbook, 5.5.3.2.2."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from proofkit.choice.desirability import at_least, at_most, near, overall

share = st.floats(0, 1)


# d = ((Y - L) / (T - L))^s below the target, ((Y - U) / (T - U))^t above it, 0 outside L to U (e-Handbook 5.5.3.2.2,
# equations from memory); values worked out by hand.
@pytest.mark.parametrize(
    ("y", "s", "d"),
    [(10, 1, 0.0), (15, 1, 0.5), (15, 2, 0.25), (16, 0.5, 0.6**0.5), (20, 3, 1.0), (25, 1, 1.0)],
)
def test_the_one_sided_form(y, s, d):
    assert at_least(np.array(float(y)), 10, 20, s) == pytest.approx(d)
    assert at_most(np.array(-float(y)), -20, -10, s) == pytest.approx(d)


@pytest.mark.parametrize(
    ("y", "d"), [(0.0, 0.0), (0.02, 0.5), (0.04, 1.0), (0.07, 0.5), (0.10, 0.0), (0.2, 0.0), (np.nan, np.nan)]
)
def test_the_two_sided_form(y, d):
    assert near(np.array(y), 0.0, 0.04, 0.10) == pytest.approx(d, nan_ok=True)


def test_limits_out_of_order_are_refused():
    with pytest.raises(ValueError, match="allowed is a number under best"):
        at_least(np.array([1.0]), 2.0, 2.0)


def test_the_whole_is_the_weighted_geometric_mean():
    # D = (0.5^2 * 0.8^1)^(1/3), by hand.
    assert overall(np.array([[0.5, 0.8]]), [2.0, 1.0])[0] == pytest.approx((0.25 * 0.8) ** (1 / 3))


@given(share, share, share)
def test_a_wish_not_granted_at_all_leaves_nothing_and_more_is_never_worse(a, b, more):
    whole = overall(np.array([[a, b], [max(a, more), b], [0.0, b]]), [1.0, 3.0])
    assert whole[1] >= whole[0] - 1e-12
    assert whole[2] == 0
    assert min(a, b) - 1e-9 <= whole[0] <= max(a, b) + 1e-9


def test_what_cannot_be_told_does_not_count():
    whole = overall(np.array([[np.nan, 0.64], [np.nan, np.nan]]), [5.0, 1.0])
    assert whole[0] == pytest.approx(0.64)
    assert np.isnan(whole[1])
