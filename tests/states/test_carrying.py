"""Strokes carried on along their own course, on sheets drawn by formula (`tests/states/test_differences.py`)."""

import numpy as np
import pytest

from proofkit.lines.types import LineMap
from proofkit.states.carrying import carried_on
from proofkit.states.lines import part_of_lines
from tests.lines.drawn import hatching, stroke
from tests.states.test_differences import HATCHING, courses, sheet

LENGTH_MM = 8.0

BANDS = np.array([stroke(x, 6.0, 90, 11.0, 1.2) for x in (5.0, 8.0)])
"""Two bands of ink, 1.2 mm broad: nothing is to be seen in them."""

BEFORE = {
    "hatching": HATCHING,
    "bands": BANDS,
    "crossing": np.concatenate((HATCHING, hatching(60, 0.3, 0.1))),
}


def new_stroke(angle_deg, width_mm=0.1):
    return np.array([stroke(6.0, 6.05, angle_deg, LENGTH_MM, width_mm)])


def first_part(new, length_mm):
    """The first so many millimetres of the course of a stroke."""
    course = courses(new)
    return part_of_lines(course, np.arange(course.size) < round(length_mm / 0.15))


def reached_mm(found: LineMap, new) -> tuple[float, float]:
    """How far along a stroke a course reaches, and the most that it leaves it."""
    x0, y0, x1, y1, _ = new[0]
    along = np.array([x1 - x0, y1 - y0]) / LENGTH_MM
    away = found.points_mm - (x0, y0)
    return float((away @ along).max()), float(np.abs(away @ np.array([-along[1], along[0]])).max())


@pytest.mark.parametrize("work", list(BEFORE))
@pytest.mark.parametrize("angle_deg", [4, 20])
@pytest.mark.parametrize("width_mm", [0.06, 0.13])
def test_a_stroke_is_carried_on_to_its_end_and_no_further(work, angle_deg, width_mm):
    new = new_stroke(angle_deg, width_mm)
    before, after = sheet(BEFORE[work]), sheet(np.concatenate((BEFORE[work], new)), seed=2)
    found = carried_on(first_part(new, 2.0), after, before)
    reach, aside = reached_mm(found, new)
    # To two points before its end, and inside the stroke all the way.
    assert LENGTH_MM - 0.45 < reach < LENGTH_MM + 0.15
    assert aside < width_mm / 2
    assert found.length_mm.sum() == pytest.approx(LENGTH_MM, abs=0.6)


@pytest.mark.parametrize("work", list(BEFORE))
def test_what_ends_is_not_carried_on(work):
    new = new_stroke(10)
    x0, y0, x1, y1, width = new[0]
    half = np.array([[x0, y0, (x0 + x1) / 2, (y0 + y1) / 2, width]])
    before, after = sheet(BEFORE[work]), sheet(np.concatenate((BEFORE[work], half)), seed=2)
    reach, _ = reached_mm(carried_on(first_part(new, 2.0), after, before), new)
    assert reach < LENGTH_MM / 2 + 0.15


@pytest.mark.parametrize("depth", [0.90, 0.953])
def test_ink_of_another_pull_carries_nothing_on(depth):
    # 0.90 takes 1 D at the core, 0.953 takes 1.328 D, the usual 0.93 takes 1.155: 15 % less and more.
    part = first_part(new_stroke(10), 2.0)
    found = carried_on(part, sheet(HATCHING, depth=depth, seed=2), sheet(HATCHING))
    assert found.length_mm.sum() == pytest.approx(part.length_mm.sum(), abs=0.15)


def test_two_parts_of_a_stroke_meet_and_do_not_overlap():
    new = new_stroke(10)
    before, after = sheet(HATCHING), sheet(np.concatenate((HATCHING, new)), seed=2)
    course = courses(new)
    at = np.arange(course.size)
    parts = part_of_lines(course, (at < 13) | (at >= course.size - 13))
    found = carried_on(parts, after, before)
    # Less a step of points where they meet, and half a one at both ends.
    assert LENGTH_MM - 0.45 < found.length_mm.sum() <= LENGTH_MM


def test_no_strokes_are_carried_on_to_none():
    none = part_of_lines(courses(HATCHING), np.zeros(courses(HATCHING).size, dtype=np.bool_))
    assert carried_on(none, sheet(HATCHING), sheet(HATCHING)).size == 0
