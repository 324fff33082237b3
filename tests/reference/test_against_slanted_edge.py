"""Slanted edges whose response is known: a Gaussian times a pixel's box, at 5 degrees, on 100 x 60 pixels.

The contrast left at f cycles per pixel is ``exp(-2 pi² s² f²)`` times the box's, ``sinc(f cos 5°) sinc(f sin 5°)``, an
identity; where it is a half and a tenth was solved from it for s = 0.6 to 2 pixels. The method is that of ISO
12233:2014, clause 6, as publicly described; it is expected to come within 1 % of these on simulated edges.
"""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import ndtr

from proofkit.errors import CalibrationError
from proofkit.reflectance.edge_response import SIGMA_OF_MTF50, edge_response

MTF50 = {0.6: 0.28073, 0.8: 0.22013, 1.0: 0.18003, 1.5: 0.12271, 2.0: 0.09276}
MTF10 = {0.6: 0.5083, 0.8: 0.4005, 1.0: 0.3278, 1.5: 0.2239, 2.0: 0.1694}


def slanted(sigma, *, turn_deg=5.0, shape=(100, 60), noise=0.0):
    """A light-to-dark edge, each pixel the mean of 8 x 8 places."""
    n = 8
    rows, columns = ((np.arange(n * size) + 0.5) / n - 0.5 for size in shape)
    a = np.radians(turn_deg)
    distance = (columns[None, :] - shape[1] / 2) * np.cos(a) - (rows[:, None] - shape[0] / 2) * np.sin(a)
    light = 0.1 + 0.7 * ndtr(-distance / sigma)
    light = light.reshape(shape[0], n, shape[1], n).mean(axis=(1, 3))
    return light + noise * np.random.default_rng(1).standard_normal(shape)


def box(f):
    """Contrast that a square pixel leaves across an edge at 5 degrees."""
    return np.sinc(f * np.cos(np.radians(5))) * np.sinc(f * np.sin(np.radians(5)))


@pytest.mark.parametrize("sigma", MTF50)
def test_half_and_tenth_of_the_contrast(sigma):
    found = edge_response(slanted(sigma), 1.0)
    assert found.mtf50_per_mm == pytest.approx(MTF50[sigma], rel=0.01)
    assert found.mtf10_per_mm == pytest.approx(MTF10[sigma], rel=0.01)
    assert found.angle_deg == pytest.approx(5, abs=0.05)


def test_the_published_figures_follow_from_the_identity():
    for level, table in ((0.5, MTF50), (0.1, MTF10)):
        for sigma, value in table.items():
            solved = brentq(
                lambda f, s=sigma, q=level: np.exp(-2 * (np.pi * s * f) ** 2) * box(f) - q, 0.01, 0.9
            )
            assert solved == pytest.approx(value, rel=3e-3)
    # A Gaussian alone keeps half its contrast at 0.187391 / s; its transform by numerical integration.
    half = (
        2
        * quad(lambda x: np.cos(2 * np.pi * 0.187391 * x) * np.exp(-x * x / 2) / np.sqrt(2 * np.pi), 0, 12)[0]
    )
    assert half == pytest.approx(0.5, abs=3e-6)  # 0.187391 is rounded to six places
    assert pytest.approx(0.187391, abs=5e-7) == SIGMA_OF_MTF50


@pytest.mark.parametrize("turn", [3.0, 12.0, 30.0])
def test_any_slant_and_any_pixel(turn):
    """The same in millimetres: 1200 ppi, an edge that runs across as well as down, and noise of 0.4 %."""
    px_mm = 25.4 / 1200
    one = edge_response(slanted(1.0, turn_deg=turn, shape=(120, 120), noise=0.004), px_mm)
    other = edge_response(slanted(1.0, turn_deg=turn, shape=(120, 120), noise=0.004).T, px_mm)
    for found in (one, other):
        assert found.mtf50_per_mm * px_mm == pytest.approx(MTF50[1.0], rel=0.03)
        assert found.noise == pytest.approx(0.004, rel=0.1)


@pytest.mark.parametrize(
    ("picture", "what"),
    [
        (np.full((60, 60), 0.8), "differ by 0.00"),
        (slanted(1.0, turn_deg=0.0), "slants by 0.0 deg"),
        (np.full((60, 8), 0.8), "8 x 60 px"),
    ],
)
def test_boxes_without_a_slanted_edge(picture, what):
    with pytest.raises(CalibrationError, match=what):
        edge_response(picture, 0.02)
