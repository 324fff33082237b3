"""Changes of load that are but the work of a line beside, or of the ground."""

from types import SimpleNamespace

import numpy as np
import pytest

from proofkit.states.shadows import FoundChange, is_of_the_ground, is_shadow
from proofkit.states.types import Change

STRETCH = np.arange(10, 20)


def change(kind):
    points = np.column_stack((np.arange(10) * 0.15, np.zeros(10)))
    return FoundChange(Change(kind, points, 1.5, 0.08, 60.0, 40.0), STRETCH)


def pulls(tone_after, *, film=(0.06, 0.02, 0.08, 0.05)):
    """Grounds of 100 points on two pulls of each state; ten of them hold a tone on the later one. [R/Rp]"""
    sides = ("A", "B", "A", "B")
    density = np.array(film)[:, None] + np.zeros((4, 100))
    for number, side in enumerate(sides):
        density[number, STRETCH] += (tone_after if side == "B" else 0.0) + 0.1
    return SimpleNamespace(sides=sides, ground=10**-density)


@pytest.mark.parametrize(
    ("kind", "tone", "of_the_ground"),
    [
        ("lightened", 0.15, True), ("deepened", -0.09, True),
        # The film of a pull alone, or ground that changed with the line, makes no line lighter or deeper.
        ("lightened", 0.0, False), ("deepened", 0.0, False), ("deepened", 0.15, False), ("lightened", -0.09, False),
        ("removed", 0.15, False),
    ],
)  # fmt: skip
def test_a_line_on_bitten_ground_stands_out_less(kind, tone, of_the_ground):
    assert is_of_the_ground(change(kind), pulls(tone)) == of_the_ground


def test_one_pull_with_dark_ground_is_no_work():
    shown = pulls(0.15)
    shown.ground[1] = shown.ground[1].max()
    assert not is_of_the_ground(change("lightened"), shown)


def pair_of_lines(gap_mm, *, turn_deg=0.0):
    """Two lines of 3 mm, the second beside the first or turned against it, with `gap_mm` between their edges."""
    x = 0.15 * np.arange(20)
    turn = np.radians(turn_deg)
    first = np.column_stack((x, np.zeros(20)))
    second = np.column_stack((x * np.cos(turn), gap_mm + 0.04 + x * np.sin(turn)))
    normals = np.repeat([[0.0, 1.0], [-np.sin(turn), np.cos(turn)]], 20, axis=0)
    gaps = np.full(40, gap_mm)
    spans = SimpleNamespace(gap_left_mm=gaps, gap_right_mm=gaps)
    lines = SimpleNamespace(points_mm=np.concatenate((first, second)), normals=normals)
    return SimpleNamespace(
        lines=SimpleNamespace(lines=lines, spans=spans, spacing_mm=np.full(40, gap_mm + 0.04))
    )


def found(kind, before, after, stretch):
    return FoundChange(Change(kind, np.zeros((20, 2)), 3.0, 0.04, before, after), stretch)


@pytest.mark.parametrize(
    ("gap", "after", "is_one"),
    [(0.2, 21.0, True), (0.2, 10.0, False), (0.08, 10.0, True), (0.08, 5.0, False), (0.4, 21.0, False)],
)
def test_a_line_beside_one_that_grew_seems_to_shrink(gap, after, is_one):
    # From 30: to two thirds in an ordinary gap, to a third in a narrow one, and not to nothing.
    own = found("lightened", 30.0, after, np.arange(20))
    grown = found("deepened", 40.0, 80.0, np.arange(20, 40))
    assert is_shadow(own, [own, grown], pair_of_lines(gap)) == is_one
    # Alone, beside one that changed less, or across one that grew, it is a change of its own.
    assert not is_shadow(own, [own], pair_of_lines(gap))
    little = found("deepened", 40.0, 45.0, np.arange(20, 40))
    assert not is_shadow(own, [own, little], pair_of_lines(gap))
    assert not is_shadow(own, [own, grown], pair_of_lines(gap, turn_deg=60))
