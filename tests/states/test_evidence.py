"""What all pulls say of one stretch, on readings made up for it."""

from types import SimpleNamespace

import numpy as np
import pytest

from proofkit.states.evidence import Readings, kind_of, said_of

POINTS = 40
STRETCH = np.arange(POINTS)
LENGTH_MM = 0.15 * POINTS


def readings(before, after, *, scatter=0.1, clear=True, dips=None, taken=None, in_difference=False, own=0.4):
    """Readings of one line of 6 mm: a value for each pull."""

    def rows(values):
        return np.repeat(np.array(values, dtype=float)[:, None], POINTS, axis=1)

    dips_before, dips_after = dips or (before, after)
    taken_before, taken_after = taken or ([np.nan] * len(before), [np.nan] * len(after))
    shared = SimpleNamespace(
        lines=SimpleNamespace(clear=np.full(POINTS, clear)),
        is_difference=np.full(POINTS, in_difference),
        hidden=np.full(POINTS, in_difference),
        found_on=np.zeros(POINTS, dtype=np.intp),
        dip=np.full((1, POINTS), own),
    )
    return Readings(
        shared, rows(before), rows(after), rows(dips_before), rows(dips_after), rows(taken_before),
        rows(taken_after), np.full(POINTS, scatter),
    )  # fmt: skip


def kind(made):
    said = said_of(STRETCH, made, LENGTH_MM)
    return None if said is None else said[0]


# Over 6 mm readings scatter by 0.10 / sqrt(6 / 1.5) = 0.05; 1.25 is 0.223 in natural logarithms, of which the edge of
# a change takes 0.095: 2.6 standard deviations of one pull of each state, 3.6 of the means of two.
@pytest.mark.parametrize(
    ("pulls", "factor", "told"),
    [(1, 1.25, None), (2, 1.25, "deepened"), (1, 1.30, "deepened"), (2, 1.19, None), (2, 1.0, None)],
)
def test_more_pulls_tell_a_smaller_change_of_load(pulls, factor, told):
    assert kind(readings([1.0] * pulls, [factor] * pulls)) == told
    assert kind(readings([factor] * pulls, [1.0] * pulls)) == ("lightened" if told else None)


@pytest.mark.parametrize(("own", "told"), [(0.04, None), (0.2, "deepened")])
def test_a_row_of_crossings_that_is_hardly_darker_than_its_sides_is_not_deepened(own, told):
    # Half as dark again: by 0.02 and by 0.1 of the paper's light.
    assert kind(readings([1.0, 1.0], [1.5, 1.5], clear=False, own=own)) == told


def test_a_pair_of_pulls_that_shows_no_change_is_heard():
    # Their means differ by a third.
    assert kind(readings([1.0, 1.0], [1.6, 1.1])) is None


def test_a_change_within_a_wide_scatter_is_none():
    assert kind(readings([1.0, 1.0], [1.3, 1.3], scatter=0.3)) is None


CROSSED = {"clear": False, "dips": ([0.5, 0.6], [1.0, 0.9])}
"""Where lines cross densely, the earlier state seems to have half of a new line."""


@pytest.mark.parametrize(
    ("taken", "told"),
    [
        (([0.0, 0.05], [1.0, 0.9]), "added"),
        # One later pull lacks it, or one earlier pull has it too.
        (([0.0, 0.0], [1.0, 0.2]), None), (([0.0, 0.8], [1.0, 1.0]), None),
        (([0.0, np.nan], [1.0, 0.9]), None),
    ],
)  # fmt: skip
def test_the_light_that_a_new_line_takes_speaks_where_lines_cross(taken, told):
    said = said_of(STRETCH, readings([0.5, 0.6], [1.0, 0.8], taken=taken, **CROSSED), LENGTH_MM)
    assert (said[0] if said else None) == told


@pytest.mark.parametrize(
    ("own", "other", "told"), [(0.7, 0.56, "added"), (0.3, 0.56, "doubtful"), (0.7, 0.3, "doubtful")]
)
def test_a_hidden_stroke_is_there_where_it_takes_enough_by_itself(own, other, told):
    # 0.56 of a stroke that takes 0.7 is 0.39 of the light, and makes a stroke itself; of 0.3 it is 0.17.
    made = readings([0.0, 0.02], [1.0, other], in_difference=True, own=own)
    assert kind(made) == told


def test_kinds():
    a, b = np.array([1.0, 0.9]), np.array([0.0, 0.1])
    assert kind_of(a, b, 0.15, 1.2) == "removed"
    assert kind_of(b, a, 0.15, 1.2) == "added"
    assert kind_of(a, a, 0.15, 1.2) is None
    assert kind_of(a, 1.4 * a, 0.15, 1.2) == "deepened"
    assert kind_of(1.4 * a, a, 0.15, 1.2) == "lightened"
