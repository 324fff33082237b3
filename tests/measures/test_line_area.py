"""How far the area of lines is known, against areas worked out anew from what was known wrongly."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from proofkit.measures.line_area import LineDepth, area_fraction, line_uncertainty
from proofkit.measures.tone import ToneSlopes
from proofkit.measures.uncertainty import (
    U_DEPTH,
    WIDTH_BY_CURVE,
    Calibration,
    Situation,
    depth_by_blur,
    hatch_sensitivity,
)

PERIOD, WIDTH, DEPTH, BLUR = 0.14, 0.05, 0.93, 0.022
SURE = Situation(
    Calibration(0.0, 0.0, 0.0),
    None,
    1000 * BLUR,
    film_from_gaps=False,
    quantisation=0.0,
    tone=ToneSlopes(0.0, 0.0, 0.0),
)


def _ratio(load, depth, blur):
    """First harmonic over mean of a ruling: what a scan shows of it (Fourier series of a bar)."""
    harmonic = np.sinc(load / depth / PERIOD) * np.exp(-2 * np.pi**2 * blur**2 / PERIOD**2)
    return 2 * harmonic * (load / PERIOD) / (1 - load / PERIOD)


def _area(depth, blur):
    """Share covered when depth and blur are taken for these while the scan stays as it is."""
    seen = _ratio(WIDTH * DEPTH, DEPTH, BLUR)
    load = brentq(lambda load: _ratio(load, depth, blur) - seen, 0.01, 0.1)
    return load / depth / PERIOD


def test_of_hatching_depth_moves_line_and_ground_the_same_way():
    hatch = hatch_sensitivity(WIDTH * DEPTH, WIDTH, PERIOD, BLUR)
    held = LineDepth(DEPTH, 1.0, 1000 * WIDTH)
    of_depth = line_uncertainty(held, replace(SURE, hatch=hatch), in_gaps=True) / U_DEPTH
    assert of_depth == pytest.approx(abs(_area(1.01 * DEPTH, BLUR) / _area(DEPTH, BLUR) - 1) / 0.01, rel=0.05)
    blurred = replace(SURE, hatch=hatch, calibration=Calibration(0.0, 0.01, 0.0))
    both = line_uncertainty(held, blurred, in_gaps=True)
    of_blur = np.sqrt(both**2 - (of_depth * U_DEPTH) ** 2) / 0.01
    assert of_blur == pytest.approx(_area(DEPTH, 1.01 * BLUR) / _area(DEPTH, BLUR) / 0.01 - 100, rel=0.05)


def test_a_line_that_tells_its_own_depth_hangs_on_the_blur_and_not_on_other_lines():
    own = LineDepth(DEPTH, 0.0, 150.0)
    at = replace(SURE, calibration=Calibration(0.0, 0.01, 0.0))
    assert line_uncertainty(own, at, in_gaps=False) == pytest.approx(0.01 * depth_by_blur(150.0, 22.0))
    at = replace(SURE, calibration=Calibration(0.0, 0.0, 0.01))
    assert line_uncertainty(own, at, in_gaps=False) == pytest.approx(0.01 * WIDTH_BY_CURVE * 22 / 150)


def test_a_wrong_level_of_paper_drops_out_of_an_area():
    for level in (0.97, 1.0, 1.03):
        assert area_fraction(level * 0.6, level * 0.85, level * 0.06) == pytest.approx(0.25 / 0.79)
