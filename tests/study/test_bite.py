import math

import numpy as np
import pytest

from proofkit.study.bite import bath_speed, power_law, rising_course
from proofkit.study.models import TooLittleError

TIMES = np.array([2.0, 4.0, 8.0, 16.0, 32.0])


def test_means_that_fall_are_pooled_with_their_neighbours():
    # By hand, pool adjacent violators: 3 and 2 make 2.5; 4 and 3.5 make 3.75.
    course = rising_course(np.arange(6.0), np.array([1.0, 3.0, 2.0, 4.0, 3.5, 5.0]))
    assert course.fitted.tolist() == [1.0, 2.5, 2.5, 3.75, 3.75, 5.0]
    assert course.rise == 4.0


def test_more_readings_weigh_more():
    # By hand: one reading of 4, then three of 1: (4 + 3) / 4.
    course = rising_course(np.array([1.0, 2.0, 2.0, 2.0, 3.0]), np.array([4.0, 1.0, 1.0, 1.0, 9.0]))
    assert course.fitted.tolist() == [1.75, 1.75, 9.0]


@pytest.mark.parametrize(("plates", "luck"), [(1, 0.0), (3, 0.0), (3, 0.1), (5, 0.1)])
def test_the_interval_of_a_course_holds_the_truth(plates, luck):
    # 95 % nominal at each time; 80 studies know the rate to 3 % where plates share luck. A course that never falls
    # scatters less than the means whose error it is given, so that intervals may hold more than they say.
    rng = np.random.default_rng(0)
    truth = 20 * TIMES**0.5
    held = []
    for _ in range(80):
        plate = np.repeat(np.arange(plates), 10)
        times = np.tile(np.repeat(TIMES, 2), plates)
        read = 20 * times**0.5 * np.exp(rng.normal(0, luck, plates)[plate]) + rng.normal(0, 4.0, times.size)
        course = rising_course(times, read, plate if plates > 1 else None)
        held += list((course.low <= truth) & (truth <= course.high))
    assert np.mean(held) >= 0.92


def test_a_plate_for_each_time_gives_a_course_and_no_interval():
    times = np.repeat(TIMES, 3)
    course = rising_course(times, times + np.tile([0.0, 0.1, 0.2], 5), np.repeat(np.arange(5), 3))
    assert course.rise == pytest.approx(30.0)
    assert np.isnan(course.low).all()


def test_two_times_make_no_course():
    with pytest.raises(TooLittleError, match="3 times"):
        rising_course(np.array([1.0, 2.0]), np.array([1.0, 2.0]))


def test_a_power_of_time_is_found():
    law = power_law(TIMES, 12.0 * TIMES**0.45)
    assert law.exponent.estimate == pytest.approx(0.45)
    assert law.at_one == pytest.approx(12.0)


@pytest.mark.parametrize(("times", "values"), [(TIMES - 2.0, TIMES), (TIMES, TIMES - 2.0)])
def test_powers_need_times_and_values_above_zero(times, values):
    with pytest.raises(TooLittleError, match="above 0"):
        power_law(times, values)


def two_baths(rng, speed, sd=0.02):
    """Strips of five times in each of two baths, of which the warm one is `speed` times as fast."""
    times = np.tile(TIMES, 4)
    baths = ("cool",) * 10 + ("warm",) * 10
    reached = times * np.array([1.0] * 10 + [speed] * 10)
    return times, 15 * reached**0.4 * np.exp(rng.normal(0, sd, 20)), baths


def test_the_speed_of_a_bath_is_found_and_its_interval_holds():
    rng = np.random.default_rng(1)
    held = 0
    for _ in range(200):
        found = bath_speed(*two_baths(rng, 1.5), "cool")
        held += found.low <= 1.5 <= found.high
    assert (found.slower, found.faster) == ("cool", "warm")
    assert found.speed == pytest.approx(1.5, rel=0.15)
    assert 0.91 <= held / 200 <= 0.985


@pytest.mark.parametrize("luck", [0.05, 0.2])
def test_the_speed_holds_also_where_plates_differ(luck):
    # Three plates in each bath, five times on each; the luck of a plate shifts all its readings.
    rng = np.random.default_rng(3)
    plate = np.repeat(np.arange(6), 5)
    warm, times, held = plate >= 3, np.tile(TIMES, 6), 0
    for _ in range(200):
        reached = times * np.where(warm, 1.5, 1.0)
        scatter = rng.normal(0, luck, 6)[plate] + rng.normal(0, 0.03, plate.size)
        found = bath_speed(
            times, 15 * reached**0.4 * np.exp(scatter), tuple(np.where(warm, "warm", "cool")), "cool", plate
        )
        held += found.low <= 1.5 <= found.high
    assert found.freedom == 4
    assert held / 200 >= 0.91


def test_one_plate_in_each_bath_has_a_speed_and_no_interval():
    # Places on one plate, however many, share what this plate and this bath had of their own.
    times, values, baths = two_baths(np.random.default_rng(4), 1.5)
    found = bath_speed(times, values, baths, "cool", np.repeat([0, 1], 10))
    assert found.speed == pytest.approx(1.5, rel=0.15)
    assert found.freedom == 0
    assert np.isnan([found.low, found.high]).all()


def test_the_reference_turns_the_comparison_round():
    times, values, baths = two_baths(np.random.default_rng(2), 1.5)
    one, other = (bath_speed(times, values, baths, name) for name in ("cool", "warm"))
    assert one.speed * other.speed == pytest.approx(1.0)
    assert one.low * other.high == pytest.approx(1.0)


def test_a_rise_that_is_not_sure_leaves_the_interval_open():
    # Scatter that leans neither with time nor with bath, far larger than the rise.
    times = np.tile(TIMES, 4)
    scatter = np.repeat([0.6, -0.6, 0.6, -0.6], 5)
    found = bath_speed(times, 10 * times**0.02 * np.exp(scatter), ("a",) * 10 + ("b",) * 10, "a")
    assert (found.low, found.high) == (0.0, math.inf)


@pytest.mark.parametrize("baths", [("a",) * 5, ("a", "b", "c", "a", "b")])
def test_baths_are_compared_two_at_a_time(baths):
    with pytest.raises(TooLittleError, match="two at a time"):
        bath_speed(TIMES, TIMES, baths, "a")


def test_a_measure_that_falls_has_no_speed():
    with pytest.raises(TooLittleError, match="does not rise"):
        bath_speed(TIMES, 1 / TIMES, ("a", "b", "a", "b", "a"), "a")


def test_one_reading_at_each_time_that_never_falls_has_no_interval():
    course = rising_course(TIMES, TIMES)
    assert np.isnan(course.low).all()
    assert np.isnan(course.high).all()
    assert course.rise == 30.0
