"""Distances of ruled lines whose points stray, against the ruling they were made from."""

import numpy as np
import pytest

from proofkit.laying.standard_lines import lines_of_known_width
from proofkit.lines.types import LineMap
from proofkit.measures.line_neighbours import neighbour_distances

STEP = 0.15
COUNT = 60


def ruled(pitch, stray, widths=None, lines=9):
    """Level lines `pitch` apart, each point `stray` mm off its line to one side and the other in turn."""
    x = np.tile(np.arange(COUNT) * STEP, lines)
    number = np.repeat(np.arange(lines, dtype=np.int32), COUNT)
    zigzag = stray * (1 - 2 * (np.arange(COUNT * lines) % 2))
    points = np.column_stack((x, 1 + number * pitch + zigzag))
    found = LineMap(
        points, np.tile([0.0, 1.0], (len(x), 1)), number, np.full(len(x), STEP), np.full(len(x), 0.5)
    )
    width = np.full(len(x), 0.05) if widths is None else widths[number]
    return lines_of_known_width(found, width, 0.02, 1000 * width)


@pytest.mark.parametrize("pitch", [0.11, 0.15, 0.3])
def test_points_that_stray_leave_distances_as_they_are(pitch):
    """3 µm to either side, the most that traced points stray; single points would say 3 µm too much on one side."""
    side, share = neighbour_distances(ruled(pitch, 0.003))
    number = np.repeat(np.arange(9), COUNT)
    inside = (number > 0) & (number < 8)
    inner = inside & np.tile((np.arange(COUNT) > 4) & (np.arange(COUNT) < COUNT - 5), 9)
    assert np.abs(side[inner] - pitch).max() < 0.0006
    assert np.all(share[inner] == 1)
    assert np.isinf(side[number == 0]).any(axis=1).all()


def test_each_side_has_its_own_width():
    side, share = neighbour_distances(ruled(0.2, 0.0, widths=np.linspace(0.04, 0.08, 9)))
    middle = 4 * COUNT + COUNT // 2
    assert sorted(share[middle]) == pytest.approx([0.055 / 0.06, 0.065 / 0.06])
    assert side[middle] == pytest.approx(0.2)
