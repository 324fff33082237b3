"""Marks on several pulls are told once each, with what to do about them."""

import pytest

from proofkit.columns import PLACES, make_table
from proofkit.judgement.plate_marks import MOST_TOLD, on_plate_marks
from proofkit.places.lasting import seen_on
from proofkit.places.types import Place

PULLS = [str(k) for k in range(1, 13)]
SIZE_MM = (60.0, 40.0)


def table(marks, turned=()):
    """Marks as (pull, x, y, change)."""
    found = [
        Place(pull, "dark speck" if ink > 0 else "light spot", x, y, 0.4, 0.4, 0.0, ink, 12.0)
        for pull, x, y, ink in marks
    ]
    found.sort(key=lambda place: PULLS.index(place.pull))
    seen = seen_on(found, PULLS, turned=turned, size_mm=SIZE_MM)
    return make_table(
        [
            {
                "pull": place.pull, "kind": place.kind, "regions": "sky", "x_mm": place.x_mm, "y_mm": place.y_mm,
                "ink_change": place.ink_change, "lasting": also.lasting, "seen_on": "; ".join(also.pulls),
                "keeps_to": also.keeps_to, "recurs_on": float(len(also.pulls)),
            }
            for place, also in zip(found, seen, strict=True)
        ],
        PLACES,
    )  # fmt: skip


def test_nothing_is_said_of_single_marks():
    assert on_plate_marks(table([("3", 5.0, 5.0, 0.5), ("4", 9.0, 5.0, 0.5)])) == []
    assert on_plate_marks(make_table([], PLACES)) == []


def test_a_mark_that_came_and_stayed_is_told_once():
    (said,) = on_plate_marks(table([(str(k), 5.0 + 0.02 * k, 5.0, 0.5) for k in range(7, 13)]))
    assert "came with pull 7 and is on 6 pulls up to the last" in said
    assert "5.1 mm from the left, 5.0 mm from the top (sky)" in said
    assert "scratch" in said
    assert "turned" in said


@pytest.mark.parametrize(
    ("turned", "x_mm", "y_mm", "words", "silent"),
    [
        ((), 5.0, 5.0, "lint", "so it is"),
        (("5",), 5.0, 5.0, "so it is the plate's", "end for end"),
        (("5",), 55.0, 35.0, "It did not turn with the plate on the bed, so it is the blanket's", "Look"),
    ],
)
def test_a_turned_plate_tells_plate_from_press(turned, x_mm, y_mm, words, silent):
    marks = [("4", 5.0, 5.0, -0.3), ("5", x_mm, y_mm, -0.3), ("6", 5.0, 5.0, -0.3)]
    (said,) = on_plate_marks(table(marks, turned))
    assert "light spot" in said
    assert "is on pulls 4, 5 and 6" in said
    assert words in said
    assert silent not in said


def test_the_marks_on_most_pulls_come_first_and_the_rest_are_counted():
    marks = [("2", 3.0 * k + 3.0, 5.0, 0.5) for k in range(7)] + [
        (str(p), 3.0 * k + 3.0, 5.0, 0.5) for k in range(7) for p in range(3, 4 + k)
    ]
    said = on_plate_marks(table(marks))
    assert len(said) == MOST_TOLD + 1
    assert "21.0 mm from the left" in said[0]
    assert said[-1] == "3 more marks are on several pulls; see places.csv."
