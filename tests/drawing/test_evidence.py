"""Reading the print along a drawn course: bars blurred by a Gaussian (`tests/lines/drawn.py`)."""

import numpy as np
import pytest

from proofkit.drawing.evidence import line_contrast
from tests.lines.drawn import hatching, stroke
from tests.states.test_differences import sheet

CONTOUR = [2.0, 6.0, 10.0, 6.0, 0.1]


def along(y):
    """A level course at `y`, points 0.3 mm apart."""
    x = np.arange(3.0, 9.0, 0.3)
    return np.column_stack((x, np.full(len(x), y))), np.tile([0.0, 1.0], (len(x), 1))


@pytest.mark.parametrize("aside", [0.0, 0.2, -0.3])
def test_a_line_beside_its_drawn_place_is_seen(aside):
    # The bar takes 0.93 of the light; a strip of 0.08 mm in its middle keeps most of that after a blur of 0.018 mm.
    assert np.median(line_contrast(sheet([CONTOUR]), *along(6.0 + aside))) > 0.6


def test_a_line_a_millimetre_aside_is_not():
    assert np.abs(line_contrast(sheet([CONTOUR]), *along(5.0))).max() < 0.05


@pytest.mark.parametrize("angle", [90, 60, 40])
def test_hatching_that_crosses_is_no_line_along_it(angle):
    crossed = sheet(hatching(angle, 0.3, 0.08, length=6.0, lines=20))
    contour = sheet(np.vstack((hatching(angle, 0.3, 0.08, length=6.0, lines=20), [CONTOUR])), seed=2)
    none, there = (np.median(line_contrast(one, *along(6.0))) for one in (crossed, contour))
    # Half of what a contour shows there is the bar of being printed.
    assert none < 0.5 * there


def test_no_line_outside_the_scan():
    points, normals = along(40.0)
    assert np.abs(line_contrast(sheet([stroke(6, 6, 0, 4, 0.1)]), points, normals)).max() == 0
