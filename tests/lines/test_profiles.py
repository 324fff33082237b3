"""Profiles are three readings by cubic convolution beside each other, near the scan's border as amid it."""

import numpy as np
import pytest

from proofkit.lines.profile_kernels import BESIDE_PX
from proofkit.lines.profiles import STEP_FRACTION, read_profiles
from tests.lines.papers import even_paper

PAPER = 0.8


def keys(s):
    """The kernel of cubic convolution with a = -1/2 (Keys 1981, equation 15)."""
    s = np.abs(s)
    near, far = 1.5 * s**3 - 2.5 * s**2 + 1, -0.5 * s**3 + 2.5 * s**2 - 4 * s + 2
    return np.where(s < 1, near, np.where(s < 2, far, 0.0))


def reading(plane, x, y):
    rows, columns = np.indices(plane.shape)
    return float(np.sum(plane * keys(columns - x) * keys(rows - y)))


@pytest.mark.parametrize("angle_deg", [0.0, 24.0, 90.0, 141.0, 180.0, 263.0])
def test_samples_are_means_of_three_readings(angle_deg):
    plane = np.random.default_rng(6).integers(0, 65536, (30, 34)).astype(np.uint16)
    across = np.array([np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))])
    beside = BESIDE_PX * np.array([-across[1], across[0]])
    centres = np.array([(16.3, 14.6), (5.2, 4.4), (30.1, 26.7)])
    found = read_profiles(plane, even_paper(PAPER), centres, np.tile(across, (3, 1)), 1.0, reach_mm=5.0)
    assert found.s_mm[1] - found.s_mm[0] == STEP_FRACTION
    for centre, values in zip(centres, found.values, strict=True):
        for s, value in zip(found.s_mm, values, strict=True):
            at = [centre + s * across + k * beside for k in (-1, 0, 1)]
            if np.isnan(value):
                assert not all(1.8 < x < 31.2 and 1.8 < y < 27.2 for x, y in at)
            else:
                light = np.mean([reading(plane.astype(np.float64), *place) for place in at])
                assert value == pytest.approx(light / 65535 / PAPER, abs=3e-6)
    assert not np.isnan(found.values[0]).any()
    assert np.isnan(found.values[1:]).any()
