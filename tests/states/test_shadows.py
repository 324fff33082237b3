"""Changes of load that are but those of the ground."""

from types import SimpleNamespace

import numpy as np
import pytest

from proofkit.states.shadows import FoundChange, is_of_the_ground
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
