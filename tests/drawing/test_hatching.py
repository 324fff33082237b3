"""Hatching told from contours by how its lines lie: stacks and contours by formula."""

import numpy as np
import pytest

from proofkit.drawing.comparison import compare_drawing
from proofkit.drawing.hatching import is_hatching
from tests.drawing.test_by_formula import SIZE, courses, moved
from tests.heldout.drawing import compose


def hatched(angle_deg, count=12, spacing=0.3, length=6.0, middle=(10.0, 10.0)):
    """Straight parallel lines around a middle."""
    angle = np.deg2rad(angle_deg)
    along, across = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
    t = np.arange(-length / 2, length / 2, 0.08)[:, None]
    return [np.array(middle) + t * along + (k - count / 2) * spacing * across for k in range(count)]


def ring(radius, middle=(10.0, 10.0)):
    turn = np.arange(0, 2 * np.pi, 0.08 / radius)
    return np.array(middle) + radius * np.column_stack((np.cos(turn), np.sin(turn)))


def share(lines, one):
    """Share of one line that is taken for hatching."""
    drawn = courses(lines)
    return is_hatching(drawn)[drawn.line == one].mean()


@pytest.mark.parametrize("angle", [0, 37, 90, 178])
@pytest.mark.parametrize("spacing", [0.2, 0.5])
def test_all_lines_of_a_stack_are_hatching(angle, spacing):
    assert is_hatching(courses(hatched(angle, spacing=spacing))).mean() > 0.95


def test_lines_laid_across_each_other_are_hatching():
    assert is_hatching(courses(hatched(10) + hatched(70))).mean() > 0.95


def test_a_contour_around_hatching_and_one_across_are_not():
    lines = [ring(4.5), *hatched(20), *hatched(100, count=1, length=12.0)]
    assert share(lines, 0) == 0
    assert share(lines, len(lines) - 1) == 0


def test_two_lines_beside_each_other_are_no_hatching():
    assert not is_hatching(courses(hatched(0, count=2))).any()


def test_drawn_hatching_follows_printed_hatching():
    # As a contour it would pay for that at every point.
    composition = compose(13)
    fields = [*composition.contours, *hatched(30, length=8.0, middle=(30.0, 24.0))]
    compared = compare_drawing(courses(moved(fields, (1.0, 1.0), 1.0, mirrored=True)), courses(fields), SIZE)
    assert compared.covered_fraction > 0.95
    assert compared.departures == ()
    assert sum(contour.hatches for contour in compared.contours) == 12
