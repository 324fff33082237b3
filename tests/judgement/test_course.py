"""Courses of the run, on numbers whose course is known by construction."""

import numpy as np
import pytest

from proofkit.judgement.course import BELIEVED, RunOrder, course_of
from proofkit.judgement.in_order import is_cleaning, survives

PULLS = 40
EVERYONE = np.ones(PULLS, dtype=bool)
ORDER = RunOrder(tuple(float(k) for k in range(1, PULLS + 1)))


def told(common, order=ORDER, usable=EVERYONE):
    return course_of(np.repeat(common[:, None], 3, axis=1), common, usable, order, standard=1, good=EVERYONE)


def hand(seed, size=0.03):
    return np.random.default_rng(seed).normal(0, size, PULLS)


def test_half_a_per_cent_at_each_pull_is_a_slope():
    for seed in range(5):
        course = told(hand(seed) - 0.005 * np.arange(PULLS))
        assert course.kind == "slope"
        assert course.p < 1e-4
        assert course.per_pull.slope == pytest.approx(-0.005, abs=0.0015)
        assert course.change[1] == 0
        assert course.change[-1] == pytest.approx(-0.19, abs=0.04)


def test_a_new_mix_is_a_step_at_its_pull():
    for seed in range(5):
        values = hand(seed)
        values[28:] -= 0.12
        course = told(values)
        assert course.kind == "step"
        assert abs(course.firsts[0] - 28) <= 1
        assert course.change[-1] == pytest.approx(-0.12, abs=0.04)
        assert course.change[0] == 0


def test_a_drift_that_falls_back_is_neither_slope_nor_step():
    for seed in range(5):
        saw = 0.008 * (np.arange(PULLS) % 10)
        course = told(hand(seed, 0.005) + saw)
        assert course.kind == "falls back"
        assert {10, 20, 30} <= set(course.firsts)
        assert len(course.firsts) <= 4
        assert course.per_pull.slope == pytest.approx(0.008, abs=0.002)
        assert not course.change.any()


def test_a_noted_cleaning_lets_a_fainter_drift_be_seen():
    saw = 0.004 * (np.arange(PULLS) % 20)
    noted = RunOrder(ORDER.places, resets=(20,))
    courses = [told(hand(seed, 0.012) + saw, noted) for seed in range(6)]
    assert sum(course.kind == "falls back" and course.firsts == (20,) for course in courses) >= 5


def test_missing_pulls_count_in_the_slope():
    places = np.arange(1.0, PULLS + 1) * 2
    course = told(hand(3) - 0.005 * places, RunOrder(tuple(places)))
    assert course.per_pull.slope == pytest.approx(-0.005, abs=0.001)


def test_odd_sheets_here_and_there_make_no_course():
    # One sheet in four is off by ten spreads, each by itself and in either direction.
    for seed in range(6):
        rng = np.random.default_rng(100 + seed)
        values = hand(seed)
        odd = np.arange(rng.integers(0, 4), PULLS, 4)
        values[odd] += rng.choice((-0.3, 0.3), 10)
        course = told(values)
        assert course.kind == "steady" or course.p > BELIEVED


def test_steady_hands_have_courses_no_oftener_than_chance():
    believed = 0
    for seed in range(200):
        course = told(hand(1000 + seed))
        believed += course.kind != "steady" and course.p <= BELIEVED
    assert believed <= 200 * BELIEVED + 2 * np.sqrt(200 * BELIEVED) + 2


def test_a_short_run_tells_nothing():
    usable = EVERYONE.copy()
    usable[7:] = False
    assert told(-np.arange(float(PULLS)), usable=usable).kind == "steady"


def test_a_fall_that_goes_with_the_film_is_not_the_copper():
    rng = np.random.default_rng(4)
    places = np.arange(30.0)
    film = -0.002 * places + rng.normal(0, 0.003, 30)
    assert not survives(3 * film + rng.normal(0, 0.005, 30), places, film)
    assert survives(-0.005 * places + rng.normal(0, 0.01, 30), places, film)


@pytest.mark.parametrize(
    ("note", "is_one"),
    [
        ("plate cleaned", True),
        ("Washed the plate with spirit", True),
        ("new tarlatan from here", True),
        ("cloth changed", True),
        ("plate cold; new printer", False),
        ("clean sky", False),
        ("", False),
    ],
)
def test_cleaning_is_read_from_notes(note, is_one):
    assert is_cleaning(note) is is_one
