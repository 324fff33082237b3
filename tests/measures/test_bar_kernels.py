"""Bars seen through a blur, against the error function and its differences."""

import numpy as np
import pytest
from scipy.special import ndtr

from proofkit.measures.bar_kernels import add_bar, dot, spread_table

PLACES = np.linspace(-0.3, 0.3, 61)


def bar(centre, width, sigma):
    """A bar of even depth, blurred by a normal of this standard deviation: a difference of two edges."""
    u = PLACES - centre
    return ndtr((width / 2 - u) / sigma) - ndtr((-width / 2 - u) / sigma)


@pytest.mark.parametrize(
    ("centre", "width", "sigma"), [(0.0, 0.1, 0.03), (0.11, 0.04, 0.02), (-0.2, 0.3, 0.05)]
)
def test_bar_and_derivatives_are_those_of_a_normal(centre, width, sigma):
    out = np.full((4, len(PLACES) + 3), 7.0)
    add_bar(PLACES, len(PLACES), centre, width, sigma, spread_table(0.0), np.empty((2, len(PLACES))), out)
    # Straight lines between the rows of the table, 1/64 sigma apart: 0.24 / 64² / 8 off at most.
    assert out[0, :-3] == pytest.approx(bar(centre, width, sigma), abs=1.5e-5)
    step = 1e-5
    for row, (a, b, c) in enumerate(((-step, 0, 0), (0, step, 0), (0, 0, step)), start=1):
        # The derivative by the place is meant, so that the centre counts the other way round.
        up, down = bar(centre + a, width + b, sigma + c), bar(centre - a, width - b, sigma - c)
        slope = (up - down) / (2 * step) * (-1 if row == 1 else 1)
        assert out[row, :-3] == pytest.approx(slope, abs=2e-3 / sigma)
    assert (out[:, -3:] == 7.0).all()


def test_products_are_added_whatever_their_number():
    rng = np.random.default_rng(3)
    x, y = rng.normal(size=(2, 30))
    for m in range(30):
        assert dot(x, y, m) == pytest.approx(x[:m] @ y[:m], abs=1e-12)
