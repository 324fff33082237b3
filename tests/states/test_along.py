"""What runs along a known line, on courses laid out by hand: a stroke comes from free ground onto a line."""

import numpy as np
import pytest

from proofkit.lines.types import LineMap
from proofkit.states.along import changed_sides, is_along
from tests.lines.drawn import stroke
from tests.states.test_differences import courses, sheet

LINE = np.array([stroke(6.0, 6.0, 0, 8.0, 0.08)])
"""A line from x = 2 to 10 mm."""

MEETS_MM = 4.0

SIDE_MM = 0.04


@pytest.fixture(scope="module")
def print_of_the_line():
    return sheet(LINE)


def points(x, y, number=0):
    x, y = np.broadcast_arrays(np.asarray(x, dtype=float), y)
    step = np.gradient(np.column_stack((x, y)), axis=0)
    step /= np.hypot(*step.T)[:, None]
    count = len(x)
    return LineMap(
        np.column_stack((x, y)), np.column_stack((-step[:, 1], step[:, 0])), np.full(count, number, np.int32),
        np.full(count, 0.15), np.full(count, 0.5),
    )  # fmt: skip


def together(*parts):
    return LineMap(
        np.concatenate([one.points_mm for one in parts]),
        np.concatenate([one.normals for one in parts]),
        np.concatenate([np.full(one.size, k, np.int32) for k, one in enumerate(parts)]),
        np.concatenate([one.length_mm for one in parts]),
        np.concatenate([one.contrast for one in parts]),
    )


def new_stroke(until_mm, *, side_mm=SIDE_MM):
    """A stroke that comes down on the line at 4 mm from beside, and keeps to one side of it from there."""
    x = np.arange(1.0, until_mm, 0.15)
    return points(x, 6.0 + side_mm + np.maximum(MEETS_MM - x, 0) * 0.5)


def told_along(found, print_of):
    """Which points of the first of some ridges run along the line."""
    known = courses(LINE)
    along = is_along(found, known, print_of, changed=changed_sides(found, known, print_of))
    return along[found.line == 0]


def test_a_stroke_that_comes_upon_a_line_lies_over_it(print_of_the_line):
    assert not told_along(new_stroke(7.0), print_of_the_line).any()


@pytest.mark.parametrize(
    "ridges",
    [
        # The line is dark from end to end, dark before the stroke meets it, or broader on its other side as well.
        [points(np.arange(2.0, 10.0, 0.15), 6.0)],
        [points(np.arange(2.0, MEETS_MM - 0.3, 0.15), 6.0)],
        [points(np.arange(MEETS_MM, 7.0, 0.15), 6.0 - SIDE_MM)],
    ],
)
def test_a_line_that_was_cut_again_is_none(print_of_the_line, ridges):
    found = together(new_stroke(7.0), *ridges)
    x = new_stroke(7.0).points_mm[:, 0]
    assert told_along(found, print_of_the_line)[x > MEETS_MM + 0.3].all()


def test_a_stroke_upon_all_of_a_line_is_that_line_cut_again(print_of_the_line):
    x = np.arange(0.5, 10.0, 0.15)
    found = points(x, 6.0 + SIDE_MM + np.maximum(2.0 - x, 0) * 0.5)
    assert told_along(found, print_of_the_line)[x > 2.3].all()


def test_a_stroke_on_a_line_from_its_start_stays_that_line(print_of_the_line):
    # Seen nowhere else it may be a part of the line that was cut again.
    alone = points(np.arange(4.0, 7.0, 0.15), 6.0 + SIDE_MM)
    assert told_along(alone, print_of_the_line).all()
