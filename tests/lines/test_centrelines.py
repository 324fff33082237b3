"""Drawn strokes of known place, length and direction are found as lines."""

import numpy as np
import pytest

from proofkit.lines.centrelines import find_lines
from tests.lines.drawn import hatching, ink_picture, stroke

PITCH = 0.03
SIGMA = 0.022
SIZE = (12.0, 12.0)


def find(strokes, depth=0.93):
    return find_lines(ink_picture(np.array(strokes), SIZE, PITCH, SIGMA, depth), PITCH, 0.02)


def directions(lines):
    """Direction of each point, counter-clockwise as seen. [deg]"""
    return np.degrees(np.arctan2(lines.normals[:, 0], lines.normals[:, 1])) % 180


@pytest.mark.parametrize("angle", [0, 17, 45, 90, 133])
@pytest.mark.parametrize("width", [0.04, 0.1, 0.2, 0.4])
def test_a_single_stroke(angle, width):
    lines = find([stroke(6, 6, angle, 8.0, width)])
    assert lines.line.max() == 0
    assert lines.length_mm.sum() == pytest.approx(8.0, rel=0.02)
    apart = (directions(lines) - angle + 90) % 180 - 90
    assert np.abs(np.mean(apart)) < (0.4 if width < 0.3 else 0.8)
    # Every point lies on the stroke's axis; reading the standard centres it within 0.05 mm.
    across = np.array([np.sin(np.radians(angle)), np.cos(np.radians(angle))])
    assert np.abs((lines.points_mm - 6) @ across).max() < (0.016 if width < 0.3 else 0.04)


@pytest.mark.parametrize("width", [0.2, 0.5, 0.8])
def test_a_soft_line_of_pencil_in_a_coarser_picture(width):
    # A blunt pencil is three to four times as broad as a burin's line, and is looked for at a pitch of 0.1 mm.
    ink = ink_picture(np.array([stroke(20, 20, 17, 24.0, width)]), (40.0, 40.0), 0.1, 0.12, 0.5)
    lines = find_lines(ink, 0.1, 0.02)
    assert lines.line.max() == 0
    assert lines.length_mm.sum() == pytest.approx(24.0, rel=0.03)


@pytest.mark.parametrize(("angle", "spacing"), [(0, 0.2), (30, 0.16), (45, 0.25), (71, 0.3)])
def test_every_line_of_hatching(angle, spacing):
    lines = find(hatching(angle, spacing, 0.06))
    assert lines.line.max() + 1 == 30
    assert lines.length_mm.sum() == pytest.approx(30 * 8.0, rel=0.02)


@pytest.mark.parametrize(("one", "other"), [(0, 90), (20, 110), (30, 90), (45, 100)])
def test_cross_hatching_has_no_diagonals(one, other):
    strokes = np.vstack((hatching(one, 0.22, 0.06, lines=24), hatching(other, 0.25, 0.06, lines=20)))
    lines = find(strokes)
    assert lines.length_mm.sum() == pytest.approx((24 + 20) * 8.0, rel=0.03)
    found = directions(lines)
    near = [np.abs((found - angle + 90) % 180 - 90) < 14 for angle in (one, other)]
    assert lines.length_mm[~(near[0] | near[1])].sum() < 0.5


@pytest.mark.parametrize(
    ("angle", "width", "sigma"), [(30, 0.12, 0.022), (30, 0.1, 0.03), (35, 0.12, 0.03), (40, 0.11, 0.035)]
)
def test_flat_cross_hatching_has_no_lines_between_its_crossings(angle, width, sigma):
    strokes = np.vstack((hatching(80, 0.25, width, lines=24), hatching(80 + angle, 0.25, width, lines=24)))
    lines = find_lines(ink_picture(strokes, SIZE, PITCH, sigma, 0.93), PITCH, 0.02)
    found = directions(lines)
    near = [np.abs((found - one + 90) % 180 - 90) < 14 for one in (80, 80 + angle)]
    for layer in near:
        assert lines.length_mm[layer].sum() == pytest.approx(24 * 8.0, rel=0.05)
    assert lines.length_mm[~(near[0] | near[1])].sum() < 0.025 * 48 * 8.0


@pytest.mark.parametrize(
    ("angles", "spacing", "width"),
    [
        ((0, 90, 45), 0.25, 0.04),
        ((0, 90, 45), 0.19, 0.035),
        ((0, 60, 120), 0.25, 0.045),
        ((0, 30, 105), 0.2, 0.045),
    ],
)
def test_a_lighter_third_layer_is_kept(angles, spacing, width):
    layers = [hatching(angle, 0.25, 0.06, lines=24) for angle in angles[:2]]
    lines = find(np.vstack((*layers, hatching(angles[2], spacing, width, lines=24))))
    third = np.abs((directions(lines) - angles[2] + 90) % 180 - 90) < 10
    assert lines.length_mm[third].sum() == pytest.approx(24 * 8.0, rel=0.03)


def test_a_stroke_broken_by_clear_paper_is_two_lines():
    found = find([stroke(3.3, 6, 0, 5.0, 0.08), stroke(8.7, 6, 0, 5.0, 0.08)])
    assert found.line.max() + 1 == 2
    assert found.length_mm.sum() == pytest.approx(10.0, rel=0.02)


def test_blank_paper_and_grain_have_no_lines():
    plain = np.full((300, 300), 30, dtype=np.uint8)
    assert find_lines(plain, PITCH, 0.02).size == 0
    grain = np.random.default_rng(3).normal(30, 0.01 * 200, (300, 300)).clip(0, 255).astype(np.uint8)
    assert find_lines(grain, PITCH, 0.02).size == 0


def test_the_same_picture_gives_the_same_lines():
    picture = ink_picture(hatching(33, 0.2, 0.06), SIZE, PITCH, SIGMA)
    one, other = find_lines(picture, PITCH, 0.02), find_lines(picture.copy(), PITCH, 0.02)
    assert (one.points_mm == other.points_mm).all()
    assert (one.line == other.line).all()


def test_a_faint_line_is_found_and_its_strength_grows_with_depth():
    strengths = [np.median(find([stroke(6, 6, 10, 8.0, 0.08)], depth).contrast) for depth in (0.15, 0.4, 0.9)]
    assert strengths[0] < strengths[1] < strengths[2]
    assert strengths[2] / strengths[0] == pytest.approx(0.9 / 0.15, rel=0.05)
