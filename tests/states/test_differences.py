"""Strokes that hatching hides, on sheets drawn by formula: bars blurred by a Gaussian (`tests/lines/drawn.py`)."""

import numpy as np
import pytest

from proofkit.laying.types import Laying
from proofkit.lines.linking import linked
from proofkit.lines.types import LineMap
from proofkit.measures.types import LaidSheet
from proofkit.scan.types import Scan
from proofkit.states.differences import difference_lines, stands_out
from proofkit.states.lines import part_of_lines
from tests.lines.drawn import hatching, plane_of, scan_light, stroke
from tests.lines.papers import even_paper

SIZE_MM = (12.0, 12.0)
PX_PER_MM = 600 / 25.4
OPTICS_MM = 0.018

HATCHING = hatching(0, 0.25, 0.08, length=9.0, lines=32)


def sheet(strokes, *, depth=0.93, seed=1):
    """A sheet that lies on the plate without turn or stretch."""
    shape = tuple(round(side * PX_PER_MM) for side in SIZE_MM[::-1])
    light = scan_light(
        strokes,
        shape,
        OPTICS_MM,
        place=lambda mm: mm * PX_PER_MM,
        back=lambda px: px / PX_PER_MM,
        depth=depth,
    )
    laying = Laying(
        np.array([[PX_PER_MM, 0.0, 0.0], [0.0, PX_PER_MM, 0.0]]), np.zeros((5, 5, 2)), 10.0, 1, 1, 0, 0,
        mirrored=False, misfit_um=0,
    )  # fmt: skip
    scan = Scan(None, plane_of(light, seed=seed), np.zeros((1, 1, 3), np.float32), 1, "linear")
    return LaidSheet(scan, even_paper(), laying, 0.022, None)


def courses(strokes):
    """The centrelines of straight strokes, points 0.15 mm apart."""
    points, normals, number = [], [], []
    for k, (x0, y0, x1, y1, _) in enumerate(strokes):
        length = float(np.hypot(x1 - x0, y1 - y0))
        t = np.arange(0.075, length, 0.15)[:, None] / length
        points.append(np.array([x0, y0]) + t * np.array([x1 - x0, y1 - y0]))
        normals.append(np.tile([(y0 - y1) / length, (x1 - x0) / length], (len(t), 1)))
        number.append(np.full(len(t), k, dtype=np.int32))
    count = sum(map(len, number))
    return LineMap(
        np.concatenate(points), np.concatenate(normals), np.concatenate(number), np.full(count, 0.15),
        np.full(count, 0.5),
    )  # fmt: skip


@pytest.fixture(scope="module")
def before():
    return sheet(HATCHING)


@pytest.mark.parametrize("angle_deg", [4, 8, 20, 60])
@pytest.mark.parametrize("width_mm", [0.08, 0.13])
def test_a_new_stroke_over_hatching_is_one_line(before, angle_deg, width_mm):
    new = np.array([stroke(6.0, 6.05, angle_deg, 6.0, width_mm)])
    after = sheet(np.concatenate((HATCHING, new)), seed=2)
    found = difference_lines(after, before, SIZE_MM, courses(HATCHING))
    x0, y0, x1, y1, _ = new[0]
    along = np.array([x1 - x0, y1 - y0]) / 6.0
    away = np.abs((found.points_mm - (x0, y0)) @ np.array([-along[1], along[0]]))
    # Within half the stroke of its course, and over at least the bar's share of its length.
    assert found.length_mm[away < width_mm / 2].sum() >= 0.95 * 6.0 - 2 * 0.15
    assert found.length_mm[away > width_mm / 2].sum() <= 0.02 * 6.0


def test_lines_that_were_cut_broader_are_no_new_strokes(before):
    broader = HATCHING.copy()
    broader[::3, 4] *= 1.6
    found = difference_lines(sheet(broader, seed=2), before, SIZE_MM, courses(HATCHING))
    assert found.length_mm.sum() == 0


def test_a_darker_pull_shows_no_new_strokes(before):
    # Ink of 15 % more density at the core: 0.93 takes 1.155 D, 0.953 takes 1.328 D.
    found = difference_lines(sheet(HATCHING, depth=0.953, seed=2), before, SIZE_MM, courses(HATCHING))
    assert found.length_mm.sum() == 0


def test_a_stroke_stands_out_where_it_is_and_nowhere_else(before):
    new = np.array([stroke(6.0, 6.05, 6.0, 6.0, 0.13)])
    after = sheet(np.concatenate((HATCHING, new)), seed=2)
    course = courses(new)
    width = np.full(course.size, 0.13)
    there = stands_out(after, before, course, width, 5)
    # In a gap the stroke takes 0.93 of the light; half of its length lies on lines, where there is little to take.
    assert there.min() > 0.5
    assert there.max() < 0.95
    again = stands_out(sheet(HATCHING, seed=3), before, course, width, 5)
    assert np.abs(again).max() < 0.05


def test_dashes_that_point_at_each_other_are_one_line():
    dashes = courses(
        np.array(
            [stroke(2.0, 5.0, 0, 1.0, 0.1), stroke(3.4, 5.0, 0, 1.0, 0.1), stroke(3.0, 6.0, 0, 1.0, 0.1)]
        )
    )
    found = linked(dashes, 0.6)
    assert len(set(found.line)) == 2
    assert sorted(np.bincount(found.line, weights=found.length_mm).round(1)) == [0.9, 2.3]
    assert linked(part_of_lines(dashes, np.zeros(dashes.size, dtype=bool)), 0.6).size == 0
