"""One reflective target measured on black and on white backing: what the backing moves, and what it does not.

Grey patches of the IT8.7/2 target of batch R031126, means at D50 / 2 degrees (file by W. Faust in the public repository
hughsie/shared-color-targets, commit 0ce89a4, CC BY-SA 3.0): Y on black, listed L*, Y on white, listed L*.
"""

import numpy as np
import pytest

from proofkit.reflectance.colour import lightness
from proofkit.units import density

PATCHES = {
    "GS0": (83.22, 93.11, 85.09, 93.92),
    "GS5": (41.92, 70.81, 42.70, 71.35),
    "GS10": (19.03, 50.72, 19.35, 51.10),
    "GS15": (6.41, 30.43, 6.53, 30.72),
    "GS20": (1.22, 10.73, 1.25, 10.89),
}
TABLE = np.array(list(PATCHES.values()))


def test_lightness_of_the_listed_luminance():
    """Y and L* have two decimals each: half a unit of the last, carried through to L*, is what is left open."""
    luminance = TABLE[:, [0, 2]] / 100
    left_open = lightness(luminance + 0.00005) - lightness(luminance) + 0.005
    assert left_open.max() < 0.05
    assert (np.abs(lightness(luminance) - TABLE[:, [1, 3]]) <= left_open).all()


def test_the_backing_moves_densities_but_hardly_their_distance_from_the_paper():
    """The published shifts are 0.007 to 0.011 D; above the lightest patch of the same backing 0.003 D remain."""
    black, white = density(TABLE[:, 0] / 100), density(TABLE[:, 2] / 100)
    assert white - black == pytest.approx([-0.0097, -0.0080, -0.0072, -0.0081, -0.0106], abs=5e-5)
    assert np.abs((white - white[0]) - (black - black[0])).max() < 0.003
