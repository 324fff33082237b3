import pytest

from proofkit.places.lasting import seen_on
from proofkit.places.types import Place

PULLS = [str(k) for k in range(1, 13)]
SIZE_MM = (60.0, 40.0)


def mark(pull, x_mm=10.0, y_mm=8.0, ink_change=0.5):
    return Place(pull, "dark speck", x_mm, y_mm, 0.4, 0.4, 0.0, ink_change, 12.0)


@pytest.mark.parametrize(
    ("pulls", "lasting"),
    [
        (["5"], "once"),
        (["8", "9", "10", "11", "12"], "from here on"),
        (["7", "8", "10", "12"], "on and off"),
        (["7", "8", "10", "11", "12"], "from here on"),
        (["1", "2", "3"], "up to here"),
        (["11", "12"], "for a while"),
        (["4", "5", "6"], "for a while"),
        (["2", "9"], "on and off"),
    ],
)
def test_a_mark_lasts_as_its_pulls_lie_in_the_pile(pulls, lasting):
    seen = seen_on([mark(pull) for pull in pulls], PULLS)
    assert {one.lasting for one in seen} == {lasting}
    for one, pull in zip(seen, pulls, strict=True):
        assert one.pulls == tuple(other for other in pulls if other != pull)
        assert one.keeps_to == ""


def test_marks_apart_or_of_the_other_sign_are_others():
    seen = seen_on([mark("3"), mark("4", 10.6), mark("5", ink_change=-0.5)], PULLS)
    assert [one.lasting for one in seen] == ["once"] * 3


def test_two_marks_of_one_sheet_in_one_place_are_no_recurrence():
    assert [one.pulls for one in seen_on([mark("3"), mark("3", 10.2)], PULLS)] == [(), ()]


def test_what_stays_on_the_bed_while_the_plate_is_turned_is_of_the_press():
    seen = seen_on([mark("4"), mark("5", 50.0, 32.0), mark("6")], PULLS, turned={"5"}, size_mm=SIZE_MM)
    assert {one.keeps_to for one in seen} == {"press"}
    assert {one.lasting for one in seen} == {"for a while"}
    assert seen[1].pulls == ("4", "6")


def test_what_turns_with_the_plate_is_of_the_plate():
    seen = seen_on([mark("4"), mark("5"), mark("6")], PULLS, turned={"5"}, size_mm=SIZE_MM)
    assert {one.keeps_to for one in seen} == {"plate"}


def test_in_the_middle_of_the_plate_nobody_can_tell():
    middle = [mark(pull, 30.1, 20.0) for pull in ("4", "5", "6")]
    assert {one.keeps_to for one in seen_on(middle, PULLS, turned={"5"}, size_mm=SIZE_MM)} == {""}


def test_a_turned_pull_without_the_mark_tells_nothing():
    seen = seen_on([mark("4"), mark("6")], PULLS, turned={"5"}, size_mm=SIZE_MM)
    assert {one.keeps_to for one in seen} == {""}


def test_no_places():
    assert seen_on([], PULLS) == []
