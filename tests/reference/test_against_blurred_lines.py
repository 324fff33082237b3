"""What a blurred bar reads, against closed forms of the error function at the attributes of line prints.

A bar of width w blurred by a Gaussian of s.d. s has the peak ``erf(w / (2 sqrt(2) s))`` and an integral of exactly w,
whatever the blur. Edges blurred by s run from 10 to 90 % in 2.563103 s (blurriness after ISO/IEC 13660, definition
from memory). Peaks and widths at half of the bar's own peak are computed from these forms to four decimals.
"""

import numpy as np
import pytest
from scipy.special import erf

from proofkit.lines.crossings import TEN_NINETY_SIGMAS, Spans, measure_crossings
from proofkit.lines.profiles import Profiles
from tests.lines.drawn import bar

SIGMA = 0.03
S = np.linspace(-0.45, 0.45, 1201)


def read(sigmas, depth=0.9):
    width = sigmas * SIGMA
    reach = width / 2 + 4 * SIGMA + 0.04
    spans = Spans(*(np.array([value]) for value in (width, reach, reach, np.inf, np.inf)))
    profile = (1 - depth * bar(S, width, SIGMA)).astype(np.float32)
    return measure_crossings(Profiles(profile[None, :], S), spans, SIGMA, np.array([0.02]))


@pytest.mark.parametrize(
    ("sigmas", "peak", "own_half_width"),
    [
        (1, 0.38292, 2.4546),
        (2, 0.68269, 2.7714),
        (3, 0.86639, 3.3326),
        (4, 0.95450, 4.1140),
        (6, 0.99730, 6.0068),
    ],
)
def test_peak_width_and_integral(sigmas, peak, own_half_width):
    assert peak == pytest.approx(erf(sigmas / (2 * np.sqrt(2))), abs=5e-6)
    values = read(sigmas)
    assert values.depth[0] == pytest.approx(0.9 * peak, rel=0.001)
    assert 1 - values.core_reflectance[0] == pytest.approx(0.9 * peak, rel=0.001)
    assert values.width_um[0] / (1000 * SIGMA) == pytest.approx(own_half_width, rel=0.003)
    assert values.load_um[0] == pytest.approx(0.9 * sigmas * SIGMA * 1000, rel=0.002)


def test_ten_to_ninety():
    assert pytest.approx(2.563103, abs=5e-7) == TEN_NINETY_SIGMAS
    assert read(10).softness_um[0] == pytest.approx(2.563103 * SIGMA * 1000, rel=0.003)
