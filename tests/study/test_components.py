import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from proofkit.study.components import nested_components, upper_limit


def codes(*numbers):
    return np.array(numbers, dtype=np.intp)


def test_unequal_numbers_of_repeats_give_the_one_way_estimates_of_the_textbooks():
    # Searle, Casella, McCulloch 1992, 3.6 (formula from memory): (MSA - MSE) / n0, n0 = (N - Σn²/N) / (a - 1).
    values = np.array([1.0, 2.0, 4.0, 5.0, 9.0, 7.0])
    groups = codes(0, 0, 0, 1, 1, 2)
    within = 14 / 3 + 8.0
    between = 3 * (7 / 3 - 14 / 3) ** 2 + 2 * (7 - 14 / 3) ** 2 + (7 - 14 / 3) ** 2
    n0 = (6 - 14 / 6) / 2
    nested = nested_components(values, codes(*[0] * 6), [("day", groups)])
    assert nested.components[1].variance == pytest.approx(within / 3)
    assert nested.components[0].variance == pytest.approx((between / 2 - within / 3) / n0)


def test_planted_components_are_found():
    rng = np.random.default_rng(0)
    operator, day = np.divmod(np.arange(40 * 8), 8)
    lays = 4
    shift = np.repeat(rng.normal(0, 0.5, 40)[operator] + rng.normal(0, 1.0, 320), lays)
    values = shift + rng.normal(0, 2.0, shift.size)
    nested = nested_components(
        values,
        np.zeros(values.size, dtype=np.intp),
        [("operator", np.repeat(operator, lays)), ("day", np.repeat(day, lays))],
    )
    found = [math.sqrt(one.variance) for one in nested.components]
    assert found == pytest.approx([0.5, 1.0, 2.0], rel=0.2)


def test_a_level_with_one_group_in_each_is_not_told():
    nested = nested_components(np.array([1.0, 2.0, 3.0]), codes(0, 0, 0), [("day", codes(5, 5, 5))])
    assert math.isnan(nested.components[0].variance)
    assert nested.variance == pytest.approx(1.0)


def test_equal_numbers_on_other_days_are_other_groups():
    # Day 1 of operator 0 is not day 1 of operator 1.
    values = np.array([0.0, 0.0, 1.0, 1.0, 5.0, 5.0, 9.0, 9.0])
    nested = nested_components(
        values,
        codes(*[0] * 8),
        [("operator", codes(0, 0, 0, 0, 1, 1, 1, 1)), ("day", codes(1, 1, 2, 2, 1, 1, 2, 2))],
    )
    assert [one.freedom for one in nested.components] == [1, 2, 4]


def test_two_values_are_needed():
    with pytest.raises(ValueError, match="two values"):
        nested_components(np.array([1.0]), codes(0), [])


@given(st.lists(st.floats(-100, 100), min_size=4, max_size=12), st.floats(-50, 50), st.floats(0.1, 10))
def test_shift_and_scale_go_through(values, shift, scale):
    data = np.array(values)
    groups = np.arange(data.size, dtype=np.intp) // 2
    one = nested_components(data, np.zeros(data.size, dtype=np.intp), [("day", groups)])
    other = nested_components(data * scale + shift, np.zeros(data.size, dtype=np.intp), [("day", groups)])
    assert other.variance == pytest.approx(one.variance * scale**2, rel=1e-6, abs=1e-6)


def test_the_upper_limit_is_that_of_the_chi_square_table():
    # NIST e-Handbook 1.3.6.7.4, lower 5 % points of chi-square: 3.325 for 9, 10.851 for 20 degrees of freedom.
    assert upper_limit(1.0, 9) == pytest.approx(math.sqrt(9 / 3.325), rel=2e-4)
    assert upper_limit(1.0, 20) == pytest.approx(math.sqrt(20 / 10.851), rel=2e-4)
