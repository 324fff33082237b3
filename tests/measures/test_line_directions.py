"""The common direction of lines through points."""

import numpy as np
import pytest

from proofkit.measures.line_directions import U_FRAME_DEG, common_direction

PEARSON_X = (0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4)
PEARSON_Y = (5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5)
PEARSON_SLOPE = -0.546
"""Pearson, On lines and planes of closest fit, 1901: ten points and their line of least squared distances, slope to
three digits (from memory)."""


def test_one_line_is_pearsons():
    # y runs down here, so a slope that falls on paper drawn upwards is an angle that rises.
    points = np.column_stack((PEARSON_X, PEARSON_Y))
    angle, _ = common_direction(points, np.zeros(10, dtype=int))
    assert np.tan(np.radians(angle)) == pytest.approx(-PEARSON_SLOPE, abs=0.0005)


def parallel_lines(angle_deg, rng, noise_mm, lines=6, count=24, spacing=0.3):
    turn = np.radians(angle_deg)
    along, across = np.array([np.cos(turn), -np.sin(turn)]), np.array([np.sin(turn), np.cos(turn)])
    place = (np.arange(count) - count / 2) * 0.15
    points = [place[:, None] * along + k * spacing * across for k in range(lines)]
    stray = rng.normal(0, noise_mm, lines * count)[:, None] * across
    return np.concatenate(points) + stray, np.repeat(np.arange(lines), count)


@pytest.mark.parametrize("angle", [0.0, 45.0, 89.99, 90.01, 133.0, 179.99])
def test_parallel_lines_have_one_direction_in_all_quadrants(angle):
    points, number = parallel_lines(angle, np.random.default_rng(1), 0.0)
    found, u_angle = common_direction(points, number)
    assert (found - angle + 90) % 180 - 90 == pytest.approx(0, abs=1e-9)
    assert 0 <= found < 180
    assert u_angle == pytest.approx(U_FRAME_DEG, abs=1e-6)


def test_uncertainty_is_that_of_a_common_slope():
    """A slope of n points at places t with independent errors s has the variance s² / sum t² (regression theory)."""
    rng, noise, turned = np.random.default_rng(2), 0.02, []
    for _ in range(200):
        points, number = parallel_lines(30.0, rng, noise)
        turned.append(common_direction(points, number))
    angles, stated = np.array(turned).T
    place = (np.arange(24) - 12) * 0.15
    theory = np.degrees(noise / np.sqrt(6 * np.sum((place - place.mean()) ** 2)))
    assert np.std(angles) == pytest.approx(theory, rel=0.15)
    # The larger of two estimates is stated, so it is on the safe side.
    assert theory < np.sqrt(np.mean(stated**2)) < 1.5 * theory
    assert np.mean(np.abs(angles - 30) < 1.96 * stated) > 0.93


def test_points_at_one_place_have_no_direction():
    assert np.isnan(common_direction(np.zeros((3, 2)), np.zeros(3, dtype=int))).all()
