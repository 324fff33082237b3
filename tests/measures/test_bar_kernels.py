"""Bars seen through a blur, against the error function, its differences and moments; sums and bands against numpy."""

import numpy as np
import pytest
from scipy.special import ndtr

from proofkit.measures.bar_kernels import add_bar, add_products, gather

PLACES = np.linspace(-0.3, 0.3, 61)


def bar(centre, width, sigma):
    """A bar of even depth, blurred by a normal of this standard deviation: a difference of two edges."""
    u = PLACES - centre
    return ndtr((width / 2 - u) / sigma) - ndtr((-width / 2 - u) / sigma)


def bars(places, *shape, excess=0.0):
    """The bar and its derivatives by centre, width and sigma."""
    out = np.full((4, len(places) + 3), 7.0, dtype=np.float32)
    add_bar(places.astype(np.float32), len(places), *shape, excess, out)
    assert (out[:, -3:] == 7.0).all()
    return out[:, :-3].astype(float)


@pytest.mark.parametrize(
    ("centre", "width", "sigma"), [(0.0, 0.1, 0.03), (0.11, 0.04, 0.02), (-0.2, 0.3, 0.05)]
)
def test_bar_and_derivatives_are_those_of_a_normal(centre, width, sigma):
    out = bars(PLACES, centre, width, sigma)
    assert out[0] == pytest.approx(bar(centre, width, sigma), abs=2e-6)
    step = 1e-5
    for row, (a, b, c) in enumerate(((step, 0, 0), (0, step, 0), (0, 0, step)), start=1):
        up, down = bar(centre + a, width + b, sigma + c), bar(centre - a, width - b, sigma - c)
        assert out[row] == pytest.approx((up - down) / (2 * step), abs=1e-5 / sigma)


def test_an_excess_makes_tails_flatter_and_keeps_the_spread():
    # What the right edge of a wide bar is moved by is the density of the blur.
    sigma, excess = 0.02, -0.3
    places = np.linspace(-7 * sigma, 7 * sigma, 1401)
    density = bars(places, -0.5, 1.0, sigma, excess=excess)[1]
    moments = [np.sum(density * places**k) * (places[1] - places[0]) / sigma**k for k in (0, 1, 2, 4)]
    assert moments == pytest.approx([1.0, 0.0, 1.0, 3.0 + excess], abs=2e-4)


def test_products_are_added_whatever_their_number():
    rng = np.random.default_rng(3)
    rows = rng.normal(size=(6, 40)).astype(np.float32)
    for m in range(40):
        out = np.zeros((6, 6))
        add_products(rows, 3, 0, m, out)
        exact = rows[3:, :m].astype(float) @ rows[:3, :m].astype(float).T
        assert out[3:, :3] == pytest.approx(exact, abs=2e-5)
        assert not out[:3].any()


@pytest.mark.parametrize("angle_deg", [0.0, 17.0, 45.0, 90.0, 133.0])
def test_a_band_has_all_pixels_within_it(angle_deg):
    a = np.radians(angle_deg)
    across, along = 20.0 * np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
    centre, low, high, half = np.array([31.3, 29.6]), -0.31, 0.27, 1.0
    plane = np.arange(60 * 64, dtype=np.uint16).reshape(60, 64)
    s, r = np.empty(200, dtype=np.float32), np.empty(200, dtype=np.float32)
    count = gather(plane, *centre, across, along, low, high, half, 1.0, s, r)
    y, x = np.mgrid[:60, :64]
    off = np.stack((x - centre[0], y - centre[1]), axis=-1)
    place, beside = off @ across / 20.0**2, off @ along
    inside = (place >= low) & (place <= high) & (np.abs(beside) < half)
    assert count > 20
    assert sorted(r[:count]) == sorted(plane[inside])
    assert s[:count] == pytest.approx(place.ravel()[r[:count].astype(int)], abs=1e-6)
    assert gather(plane, 0.5, 0.5, across, along, low, high, half, 1.0, s, r) == -1
