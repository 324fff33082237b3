"""Drawing and print as courses given by formula: no pictures, so what is tested is the laying and following alone."""

from dataclasses import replace

import numpy as np
import pytest

from proofkit.drawing.accounting import Accounted
from proofkit.drawing.comparison import compare_drawing, taken_apart
from proofkit.drawing.departing import departures, far_runs, hangs, weighed
from proofkit.drawing.fitting import Target, fit_affine
from proofkit.drawing.hatching import is_hatching
from proofkit.drawing.types import Contour, Courses
from proofkit.errors import ComparisonError
from tests.heldout.drawing import compose, depart

SIZE = (60.0, 48.0)


def courses(contours, weight=1.0):
    """Lines through points 0.16 mm apart."""
    points, direction, line, length = [], [], [], []
    for number, course in enumerate(contours):
        contour = np.asarray(course)[::2]
        step = np.gradient(contour, axis=0)
        points.append(contour)
        direction.append(np.mod(np.arctan2(step[:, 1], step[:, 0]), np.pi))
        line.append(np.full(len(contour), number, dtype=np.int32))
        length.append(np.hypot(*step.T))
    return Courses(
        np.concatenate(points), np.concatenate(direction), np.concatenate(line), np.concatenate(length),
        np.full(sum(map(len, points)), weight),
    )  # fmt: skip


def moved(contours, scale, turn_deg, *, mirrored, shift=(70.0, 9.0)):
    """Where the drawing has the contours: scaled, turned counter-clockwise, mirrored first."""
    angle = np.deg2rad(turn_deg)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    linear = turn @ np.diag(scale) @ np.diag([-1.0 if mirrored else 1.0, 1.0])
    return [contour @ linear.T + shift for contour in contours]


def test_a_passage_that_turns_through_all_directions_departs_to_one_side():
    # A circle of which a quarter was engraved 1 mm further out, where directions pass half a turn.
    turn = np.arange(0, 2 * np.pi, 0.006)
    out = np.clip(1.2 - np.abs((turn - np.pi / 2) / 0.5), 0, 1)
    drawn = [(24 + 12 * np.cos(turn), 24 + 12 * np.sin(turn))]
    printed = [(24 + (12 + out) * np.cos(turn), 24 + (12 + out) * np.sin(turn))]
    frame = [
        [(5 + 40 * t, 4 + 3 * t) for t in np.linspace(0, 1, 500)],
        [(6, 6 + 36 * t) for t in np.linspace(0, 1, 450)],
    ]
    shown = [courses([np.column_stack(one[0]), *map(np.asarray, frame)]) for one in (drawn, printed)]
    (one,) = compare_drawing(*shown, SIZE).departures
    # The bar of the job. The affine map takes a tenth, as a circle and two lines hold it loosely.
    assert one.departure_mm == pytest.approx(1.0, abs=0.2)
    # All of it is 1 mm aside over 0.2 rad and half of that over 0.7 rad: 8 to 14 mm of the circle.
    assert 6 < one.length_mm < 14


NOTHING = [np.nan] * 4


@pytest.mark.parametrize(
    ("departure", "runs"),
    [
        # The burin was set down anew within the passage, and the pencil ends in it.
        ([0.0] * 10 + NOTHING + [-1.0] * 4 + NOTHING + [-1.1] * 8, [(14, 29)]),
        # From the moved passage the way jumps to another line: the two are not one passage.
        ([0.0] * 10 + [0.4, 0.8] + [1.0] * 8 + [1.8] * 6, [(11, 19)]),
        # ... or it jumped to one before, at once.
        ([0.0, 0.4, 0.9, 1.1] + [-1.0] * 16 + NOTHING[:3], [(4, 19)]),
        # The pencil goes on within the passage, where the burin's line is not seen.
        ([0.0] * 7 + NOTHING + [1.0] * 16 + NOTHING + NOTHING[:2], [(11, 26)]),
        # Redrawn at once and given back at once: the drawn line is followed before and after.
        ([0.0] * 10 + [-1.6] * 12 + [0.0] * 10, [(10, 21)]),
        # At the end of its line the way jumps to a line that has nothing to do with it.
        ([0.0] * 20 + [0.9] * 8, []),
        # The drawn line goes on for 3 mm, and nothing printed is met any more: believed where it is long.
        ([0.0] * 10 + [0.4, 0.8] + [1.0] * 5 + NOTHING * 3 + [0.0] * 5, []),
        ([0.0] * 10 + [0.4, 0.8] + [1.0] * 8 + NOTHING * 3 + [0.0] * 5, [(11, 19)]),
        # A line that was never engraved meets others by chance and does not come back to its own.
        (NOTHING * 3 + [1.2] * 8 + NOTHING * 3, []),
        # A contour was moved as a whole.
        ([1.0] * 12, [(0, 11)]),
        # ... or so little that hand and stretch together reach it.
        ([0.0] * 10 + [0.5] * 12 + [0.0] * 10, []),
        ([0.0] * 10 + [0.7] * 12 + [0.0] * 10, [(10, 21)]),
        # What lies as far aside as it is long is another line.
        ([2.8] * 12, []),
        ([0.0] * 10 + [2.9] * 8 + [0.0] * 10, []),
        ([0.0] * 10 + [2.9] * 12 + [0.0] * 10, [(10, 21)]),
        ([0.0] * 10 + [1.0] * 4 + [0.0] * 10, []),
    ],
)
def test_stretches_that_depart_hang_together_with_their_line(departure, runs):
    line = level(5.0, departure)
    stretches = [weighed(0, line, run, Accounted([line])) for run in far_runs(np.array(departure))]
    assert [(int(one.run[0]), int(one.run[-1])) for one in stretches if hangs(one)] == runs


def level(y, departure, x0=0.0):
    """A level line drawn at `y` and what the print has of it, points 0.3 mm apart."""
    count = len(departure)
    points = np.column_stack((x0 + 0.3 * np.arange(count), np.full(count, y)))
    return Contour(
        points, points, 0.3 * count, np.zeros(count), np.array(departure), np.tile([0.0, 1.0], (count, 1)), 1.0
    )  # fmt: skip


MOVED = [0.0] * 10 + [0.4, 0.8] + [1.0] * 12 + [0.8, 0.4] + [0.0] * 10


def told(lines, contrast=None, **printed):
    return departures(lines, Accounted(lines, **printed), contrast)


def test_the_print_of_another_drawn_line_is_no_departure():
    (one,) = told([level(5.0, MOVED)])
    assert one.departure_mm == 1.0
    # Of a second drawn line, followed where the print was met: the passage may share some of it, not all.
    assert told([level(5.0, MOVED), level(6.0, [0.0] * 36)]) == []
    assert len(told([level(5.0, MOVED), level(6.0, [0.0] * 6, x0=4.5)])) == 1
    # One that is not followed there does not account for it.
    assert len(told([level(5.0, MOVED), level(6.0, [np.nan] * 36)])) == 1


def stack(y, count, spacing, x1=11.0):
    """Level printed lines."""
    x = np.arange(0.0, x1, 0.08)
    return [np.column_stack((x, np.full(len(x), y + k * spacing))) for k in range(count)]


@pytest.mark.parametrize("drawn_as_hatching", [False, True])
def test_a_contour_that_meets_hatching_does_not_depart_to_it(drawn_as_hatching):
    printed = courses(stack(6.0, 8, 0.3))
    line = replace(level(5.0, MOVED), hatches=drawn_as_hatching)
    assert len(told([line], printed=printed, hatching=is_hatching(printed))) == drawn_as_hatching


def test_a_line_that_drifts_over_hatching_does_not_depart_to_it():
    # Of lines 0.3 mm apart it meets now one and now the next, most of the way between two.
    printed = courses(stack(5.4, 8, 0.3))
    drift = [0.0] * 10 + list(np.linspace(0.5, 1.4, 16)) + [0.8, 0.4] + [0.0] * 10
    line = level(5.0, drift)
    assert len(told([line])) == 1
    assert told([line], printed=printed, hatching=is_hatching(printed)) == []


def test_pencil_that_is_lost_and_taken_up_again_is_one_line():
    # The pencil of a passage that was moved is in pieces; the next one is followed at once, or past its flank.
    piece = level(5.0, [np.nan, np.nan] + [1.0] * 6, x0=3.0)
    assert told([piece]) == []
    assert len(told([piece, level(5.0, [0.0] * 10, x0=6.0)])) == 1
    assert len(told([piece, level(5.0, [np.nan] * 4 + [0.0] * 10, x0=6.0)])) == 1
    assert told([piece, level(5.0, [np.nan] * 16 + [0.0] * 10, x0=6.0)]) == []
    # A line that runs across, or behind, is none of it.
    across = [Contour(c.points_mm[:, ::-1] + [2.9, 2.0], c.points_mm[:, ::-1] + [2.9, 2.0], 3.0, c.stretch_mm,
                      c.departure_mm, c.normals[:, ::-1], 1.0) for c in [level(3.5, [0.0] * 10)]]  # fmt: skip
    assert told([piece, *across]) == []
    assert told([piece, level(5.3, [0.0] * 8, x0=3.0)]) == []


@pytest.mark.parametrize(("printed", "count"), [(0.6, 0), (0.1, 1)])
def test_no_line_departs_where_the_print_shows_it_at_its_place(printed, count):
    def contrast(points, _normals):
        # The moved passage reaches from x = 3.3 to 7.5 mm; elsewhere the drawn line is printed.
        return np.where((points[:, 0] > 3.2) & (points[:, 0] < 7.6), printed, 0.6)

    assert len(told([level(5.0, MOVED)], contrast)) == count


@pytest.mark.parametrize(("count", "expected"), [(16, 1), (6, 0)])
def test_a_place_that_hatching_hides_is_believed_bare_only_of_a_long_passage(count, expected):
    # Hatching runs along at the drawn place and darkens it; the passage was moved to beyond it.
    printed = courses(stack(4.6, 4, 0.25, x1=14.0))
    moved_on = [0.0] * 10 + [0.4, 0.8] + [1.2] * count + [0.8, 0.4] + [0.0] * 10
    found = told(
        [level(5.0, moved_on)], lambda points, _: np.full(len(points), 0.6),
        printed=printed, hatching=is_hatching(printed),
    )  # fmt: skip
    assert len(found) == expected


@pytest.mark.parametrize("seed", range(6))
def test_reading_scales_and_departures(seed):
    composition = compose(seed)
    printed, departures = depart(composition, seed, 2)
    mirrored = seed % 2 == 0
    drawing = courses(moved(composition.contours, (1.04, 0.97), 2.0, mirrored=mirrored))
    compared = compare_drawing(drawing, courses(printed.contours), SIZE)
    assert (compared.reading == "mirrored") == mirrored
    assert compared.scale_x == pytest.approx(1 / 1.04, abs=0.006)
    assert compared.scale_y == pytest.approx(1 / 0.97, abs=0.006)
    assert compared.covered_fraction > 0.9
    # The bar of the job: departures of 1 mm within 0.2 mm.
    for one in departures:
        near = [d for d in compared.departures if np.hypot(*(d.points_mm - one.middle_mm).T).min() < 1.0]
        assert near, f"missed at {one.middle_mm}"
        assert min(abs(d.departure_mm - 1.0) for d in near) < 0.2
    assert len(compared.departures) <= len(departures) + 1


def test_a_print_that_follows_has_no_departures():
    composition = compose(11)
    drawing = courses(moved(composition.contours, (1.0, 1.0), -1.5, mirrored=True))
    compared = compare_drawing(drawing, courses(composition.contours), SIZE)
    assert compared.departures == ()
    assert compared.remarks == ()
    assert compared.covered_fraction > 0.98
    assert compared.stretch_mm < 0.03


def test_smooth_stretch_is_no_departure():
    composition = compose(12)

    def bent(points):
        # 0.5 mm over the length of the plate, as damp paper stretches.
        return points + 0.5 * np.column_stack((np.sin(points[:, 1] / 18), np.sin(points[:, 0] / 20)))

    printed = [bent(contour) for contour in composition.contours]
    drawing = courses(moved(composition.contours, (1.0, 1.0), 0.0, mirrored=True))
    compared = compare_drawing(drawing, courses(printed), SIZE)
    assert compared.departures == ()
    assert compared.covered_fraction > 0.95


def test_another_drawing_is_not_found():
    drawing = courses(moved(compose(1).contours, (1.0, 1.0), 0.0, mirrored=True))
    with pytest.raises(ComparisonError, match="not found on the print"):
        compare_drawing(drawing, courses(compose(2).contours), SIZE)


def fields_of_hatching(seed, count):
    """Fields of parallel lines somewhere on the plate, each with a pitch and a wave of its own."""
    rng = np.random.default_rng(seed)
    lines = []
    for _ in range(count):
        x = np.arange(0, rng.uniform(8, 14), 0.08)
        at, pitch, wave = rng.uniform((4, 4), (40, 36)), rng.uniform(0.5, 0.9), rng.uniform(0, 0.3)
        lines += [
            np.column_stack((x + at[0], at[1] + row * pitch + wave * np.sin(x / 3)))
            for row in range(int(rng.integers(8, 14)))
        ]
    return lines


@pytest.mark.parametrize("seed", [0, 2])
def test_hatching_of_another_plate_that_fits_one_way_is_told_to_be_doubtful(seed):
    # Nothing of the one is in the other, yet level lines fit level lines in many places.
    drawing, printed = (courses(fields_of_hatching(*given)) for given in ((seed, 3), (seed + 100, 4)))
    compared = compare_drawing(drawing, printed, SIZE)
    assert "another plate can reach as much" in compared.remarks[0]


def test_hatching_of_another_plate_that_fits_both_ways_is_refused():
    drawing, printed = courses(fields_of_hatching(4, 3)), courses(fields_of_hatching(104, 4))
    with pytest.raises(ComparisonError, match="not found on the print"):
        compare_drawing(drawing, printed, SIZE)


def test_a_place_with_no_printed_line_of_like_direction_is_fitted_to_nothing():
    upright = courses([[(5.0, 0.16 * step) for step in range(60)]])
    fit = fit_affine(upright, Target(courses(stack(2.0, 9, 0.5))), np.eye(2, 3))
    assert fit.above_chance == 0.0


def test_a_reduced_drawing_is_found():
    composition = compose(3)
    drawing = courses(moved(composition.contours, (0.6, 0.6), 90.0, mirrored=True))
    compared = compare_drawing(drawing, courses(composition.contours), SIZE)
    assert compared.reading == "mirrored"
    assert compared.scale_x == pytest.approx(1 / 0.6, rel=0.01)


def test_a_map_is_taken_apart_as_it_was_made():
    angle = np.deg2rad(7.0)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    upper = np.array([[1.05, 0.02 * 0.97], [0.0, 0.97]])
    for flip in (1.0, -1.0):
        affine = np.column_stack((turn @ upper @ np.diag([flip, 1.0]), [3.0, 4.0]))
        assert taken_apart(affine) == pytest.approx((1.05, 0.97, 0.02, 7.0))
