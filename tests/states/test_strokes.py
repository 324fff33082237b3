"""Joining stretches, scratches and areas, on courses drawn by formula."""

import numpy as np
import pytest

from proofkit.states.areas import changed_areas
from proofkit.states.strokes import joined_strokes, with_pieces, with_scratches
from proofkit.states.types import Change


def line(x0, y0, x1, y1, *, kind="added", load=20.0, bow=0.0):
    length = float(np.hypot(x1 - x0, y1 - y0))
    t = np.linspace(0, 1, max(int(length / 0.15), 2))[:, None]
    points = np.array([x0, y0]) + t * np.array([x1 - x0, y1 - y0])
    points[:, 1] += (bow * 4 * t * (1 - t))[:, 0]
    before, after = (0.0, load) if kind == "added" else (load, 0.0)
    return Change(kind, points, length, 0.05, before, after)


def test_a_line_broken_by_a_crossing_is_one_stroke():
    (one,) = joined_strokes([line(0, 0, 3, 0), line(6.5, 0, 3.4, 0)])
    # The stroke runs under the line that crosses it: from 0 to 6.5, to a step of points.
    assert one.length_mm == pytest.approx(6.5, abs=0.16)
    assert np.ptp(one.points_mm[:, 0]) == pytest.approx(6.5)


@pytest.mark.parametrize(
    "other",
    [
        line(3.2, 0, 3.2, 4),  # turns off at a right angle
        line(4.0, 0, 7, 0),  # starts 1 mm further on
        line(3.2, 0, 6, 0, kind="removed"),
    ],
)
def test_other_strokes_stay_apart(other):
    assert len(joined_strokes([line(0, 0, 3, 0), other])) == 2


def test_thin_straight_parallel_lines_are_scratches():
    kinds = [c.kind for c in with_scratches([line(0, 0, 6, 1), line(0, 1, 6, 2), line(1, 3, 7, 4.05)], 60.0)]
    assert kinds == ["scratch"] * 3


@pytest.mark.parametrize(
    "changes",
    [
        [line(0, 0, 6, 1)],  # alone
        [line(0, 0, 6, 1), line(0, 1, 6, 4)],  # not parallel: 10 and 27 deg
        [line(0, 0, 6, 1, bow=0.2), line(0, 1, 6, 2, bow=0.2)],  # bent
        [line(0, 0, 6, 1, load=50), line(0, 1, 6, 2, load=50)],  # as strong as the plate's lines
        [line(0, 0, 6, 1, kind="removed"), line(0, 1, 6, 2, kind="removed")],
    ],
)
def test_other_lines_are_work(changes):
    assert "scratch" not in [change.kind for change in with_scratches(changes, 60.0)]


def test_a_burnished_patch_is_one_area_of_its_strokes():
    patch = [line(5, 5 + 0.5 * k, 15, 5 + 0.5 * k, kind="removed") for k in range(9)]
    (area,) = changed_areas([*patch, line(30, 2, 34, 2, kind="removed"), line(5, 5, 15, 5)], (40.0, 20.0))
    assert area.kind == "removed"
    assert area.strokes == 9
    # Ten by four millimetres, give or take a cell of 0.1 mm all round.
    assert area.area_mm2 == pytest.approx(40.0, abs=3.0)
    assert area.length_mm == pytest.approx(90.0)


def test_the_break_that_a_crossing_line_makes_belongs_to_the_stroke():
    whole = line(5, 5, 12, 5)
    (one,) = joined_strokes([line(5, 5, 8, 5), line(8.7, 5, 12, 5)])
    assert one.length_mm == pytest.approx(whole.length_mm, abs=0.2)
    # No point of the whole stroke is further from the joined course than half a step of points.
    away = np.hypot(*(whole.points_mm[:, None] - one.points_mm[None]).transpose(2, 0, 1)).min(axis=1)
    assert away.max() < 0.1


def test_a_break_of_a_millimetre_parts_two_strokes():
    assert len(joined_strokes([line(5, 5, 8, 5), line(9.0, 5, 12, 5)])) == 2


def test_a_piece_counts_where_it_runs_on_in_a_stroke():
    stroke, near, next_one = line(5, 5, 9, 5), line(9.6, 5, 10.0, 5), line(10.7, 5, 11.1, 5)
    assert with_pieces([stroke], [next_one, near]) == [stroke, near, next_one]
    # One aside, one across, one of another kind, and one that has no stroke near.
    others = [
        line(5, 5.8, 5.4, 5.8), line(9.6, 5, 9.6, 5.4), line(9.6, 5, 10, 5, kind="removed"), line(15, 5, 15.4, 5)
    ]  # fmt: skip
    assert with_pieces([stroke], others) == [stroke]
    assert with_pieces([], [near]) == []


def test_short_pieces_in_a_row_are_a_stroke_of_their_own():
    row = [line(x, 5, x + 0.9, 5) for x in (5.0, 6.2, 7.4)]
    (one,) = joined_strokes(with_pieces([], row))
    assert np.ptp(one.points_mm[:, 0]) == pytest.approx(3.3)


@pytest.mark.parametrize(
    "pieces",
    [
        [line(5.0, 5, 5.9, 5), line(6.2, 5, 7.1, 5)],  # 1.8 mm are seen of it
        [line(5.0, 5, 5.9, 5), line(6.2, 5.5, 7.1, 5.5), line(7.4, 6, 8.3, 6)],  # in steps
        [line(x, 5, x + 0.9, 5) for x in (5.0, 6.9, 8.8)],  # breaks of 1 mm
        [line(x, 5, x + 0.9, 5, kind="deepened") for x in (5.0, 6.2, 7.4)],  # a load, not a line that came
    ],
)
def test_other_short_pieces_are_nothing(pieces):
    assert with_pieces([], pieces) == []
