"""The accuracy table's own arithmetic, on cases known by construction."""

import numpy as np
import pytest

from proofkit.columns import CAUSES
from proofkit.laying.types import Laying, to_plate_mm, to_sheet_px
from tests.accuracy.again import Reading, _away_from_ends, _differences
from tests.accuracy.coverage import U_SCALE, Told, chance_of_holding
from tests.accuracy.neighbours import NEIGHBOURS, is_right
from tests.accuracy.rows import errors_row


def test_sheet_pixels_go_back_to_plate_mm():
    rng = np.random.default_rng(1)
    affine = np.array([[23.4, 0.5, 210.0], [-0.4, 23.3, 190.0]])
    laying = Laying(affine, rng.normal(0, 2, (9, 11, 2)), 10.0, 1, 1, 0, 0, mirrored=False, misfit_um=0)
    points = rng.uniform((0, 0), (80, 60), (200, 2))
    np.testing.assert_allclose(to_plate_mm(laying, to_sheet_px(laying, points)), points, atol=1e-6)


def test_neighbours_are_cause_words_with_reasons():
    assert {word for pair in NEIGHBOURS for word in pair} <= set(CAUSES)
    assert all(NEIGHBOURS.values())


@pytest.mark.parametrize(
    ("named", "cause", "second", "right"),
    [
        ("crease", "crease", "", True),
        ("dry paper", "low pressure", "", True),
        ("low pressure", "dry paper", "", True),
        ("specks", "overwiped", "specks", True),
        ("bevel ink", "overwiped", "", False),
        ("", "overwiped", "", False),
    ],
)
def test_right_is_the_cause_a_neighbour_or_the_second(named, cause, second, right):
    assert is_right(named, cause, second) is right


def test_bar_is_held_against_95_percent_and_ignores_empty():
    row = errors_row("x", [*np.linspace(-1, 1, 101), np.nan], "D", 0.94)
    # Sizes are 0, 0.02 .. 1 twice each but 0: 95 % of them lie at or under 0.95.
    assert row.value == pytest.approx(0.95, abs=0.011)
    assert row.count == 101
    assert row.holds is False
    assert errors_row("x", [np.nan], "D", 1.0).holds is None


def test_an_error_of_scale_is_integrated():
    # An interval of just the scale holds 95 % where nothing else errs, half of it where the value lies at its end.
    assert chance_of_holding(Told("line_width_um", 80.0, 80 * U_SCALE, 80.0)) == pytest.approx(0.95, abs=1e-4)
    at_the_end = 80 * (1 + 1.96 * U_SCALE)
    assert chance_of_holding(Told("line_width_um", at_the_end, 80 * U_SCALE, 80.0)) == pytest.approx(
        0.5, abs=1e-3
    )
    assert chance_of_holding(Told("tone_fraction", 0.301, 0.0006, 0.3)) == 1
    assert chance_of_holding(Told("tone_fraction", 0.301, 0.0005, 0.3)) == 0


def test_differences_of_scans_and_of_prints_are_told_apart():
    one, other = (7, "1 broad"), (7, "2 fine")
    readings = [
        Reading("x", one, 0, 1.0, 3.0), Reading("x", one, 0, 11.0, 4.0), Reading("x", one, 1, 1.0, 4.0),
        Reading("x", other, 0, 5.0, 0.0), Reading("x", other, 1, 5.0, 0.0), Reading("x", other, 2, 5.1, 0.0),
    ]  # fmt: skip
    same, prints = _differences(readings)
    assert same.tolist() == [-2.0]
    # An uncertainty of 0 holds what never moves, and nothing else.
    assert prints.tolist() == [0.0, pytest.approx(10 / np.sqrt(32)), 0.0, -np.inf, -np.inf]


def test_values_at_the_end_of_their_scale_are_not_asked_for_size():
    one, other = (7, "1 broad"), (7, "2 fine")
    readings = [Reading("line_continuity_fraction", one, 0, value, 0.001) for value in (0.95, 0.96)]
    readings += [Reading("line_continuity_fraction", other, 0, value, 0.001) for value in (0.95, 0.999)]
    assert _away_from_ends(readings) == {one}
    assert _away_from_ends([Reading("line_width_um", other, 0, 1.0, 9.0)]) == {other}
