import itertools
import math
from typing import get_args

import numpy as np
import pytest
from scipy.integrate import quad

from proofkit.judgement.likelihood import Sign, likelihood_ratio

READ_AS_NUMBERS = [sign for sign in get_args(Sign) if sign != "!+"]


@pytest.mark.parametrize("sign", READ_AS_NUMBERS)
def test_with_a_cause_readings_are_still_a_distribution(sign):
    # The density of good readings times the ratio is the density with the cause: it holds all of the chance.
    def density(z):
        rough = math.exp(-0.5 * (z / 2.5) ** 2) / 2.5
        good = (0.93 * math.exp(-0.5 * z * z) + 0.07 * rough) / math.sqrt(2 * math.pi)
        return good * likelihood_ratio(z, sign)

    whole, _ = quad(density, -12, 12, limit=300)
    # A twentieth lies beyond twelve spreads where moves of five spreads are usual.
    assert 0.88 < whole <= 1.0 + 1e-6


@pytest.mark.parametrize("sign", READ_AS_NUMBERS)
def test_falls_mirror_rises(sign):
    mirrored = sign.translate(str.maketrans("+-", "-+"))
    for z in (-6.0, -1.0, 0.0, 2.5):
        other = likelihood_ratio(-z, mirrored if mirrored in READ_AS_NUMBERS else sign)
        assert likelihood_ratio(z, sign) == pytest.approx(other)


def test_the_farther_out_the_more_it_says():
    ratios = [likelihood_ratio(z, "+") for z in np.arange(-3.0, 8.0, 0.5)]
    assert all(later > earlier for earlier, later in itertools.pairwise(ratios) if later > 0.3)
    # Where half of the cause's readings would lie below and a good one hardly above, it says nothing either way.
    assert 0.8 < likelihood_ratio(1.5, "+") < 2.5
    assert math.isfinite(likelihood_ratio(300.0, "-"))
