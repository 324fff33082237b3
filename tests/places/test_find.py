import numpy as np
import pytest

from proofkit.measures.fine_picture import NO_SHEET
from proofkit.places import find_places, picture
from proofkit.places.lasting import seen_on
from tests.places.sheets import SHAPE, bar, codes, disc, edition, pictures


def found_in(sheets):
    return find_places(*pictures(sheets), SHAPE)


def test_good_sheets_have_no_places():
    assert found_in(edition()).places == ()


@pytest.mark.parametrize(
    ("x_mm", "y_mm", "diameter_mm", "ink", "kind"),
    [
        (6.0, 9.0, 0.3, 0.9, "dark speck"),
        (22.0, 17.3, 0.5, 0.9, "dark speck"),
        (8.2, 20.1, 0.5, 0.0, "light spot"),
        (21.4, 8.0, 0.7, 0.0, "light spot"),
        (7.0, 12.0, 2.6, 0.30, "smear"),
        (22.0, 12.0, 2.6, 0.10, "light patch"),
    ],
)
def test_a_round_mark_is_found_where_it_is_and_as_large_as_it_is(x_mm, y_mm, diameter_mm, ink, kind):
    sheets = edition()
    sheets["5"] = disc(sheets["5"], x_mm, y_mm, diameter_mm, ink)
    (place,) = found_in(sheets).places
    assert place.pull == "5"
    assert place.kind == kind
    assert np.hypot(place.x_mm - x_mm, place.y_mm - y_mm) < 0.15
    assert place.length_mm == pytest.approx(diameter_mm, abs=0.25, rel=0.25)
    assert (place.ink_change > 0) == (ink > 0.2)


def test_a_slit_tells_its_length_and_direction():
    sheets = edition()
    sheets["2"] = bar(sheets["2"], 21.0, 12.0, 4.0, 0.25, 0.0)
    (place,) = found_in(sheets).places
    assert place.kind == "slit"
    assert place.length_mm == pytest.approx(4.0, rel=0.15)
    assert place.breadth_mm < 0.6
    assert place.direction_deg == pytest.approx(90, abs=5)


def test_a_stroke_that_does_not_print_is_called_so():
    stroke = {pull: bar(one, 7.0, 12.0, 5.0, 0.25, 0.8) for pull, one in edition().items()}
    stroke["4"] = edition()["4"]
    (place,) = found_in(stroke).places
    assert (place.pull, place.kind) == ("4", "missing stroke")


@pytest.mark.parametrize(
    "change", [{"film": 0.14}, {"ink": 0.8}, {"ink": 1.15, "film": 0.03}, {"shift_mm": 0.04}]
)
def test_what_a_hand_does_to_a_whole_sheet_is_no_place(change):
    from tests.places.sheets import sheet  # noqa: PLC0415

    sheets = edition()
    sheets["7"] = sheet([9, 9], **change)
    assert found_in(sheets).places == ()


def test_a_mark_of_half_of_the_sheets_does_not_hide_itself():
    sheets = edition(10)
    for pull in ("7", "8", "9", "10"):
        sheets[pull] = disc(sheets[pull], 6.0, 9.0, 0.5, 0.9)
    places = found_in(sheets).places
    assert [place.pull for place in places] == ["7", "8", "9", "10"]
    seen = seen_on(places, list(sheets))
    assert seen[0].pulls == ("8", "9", "10")
    assert {one.lasting for one in seen} == {"from here on"}


def test_strips_change_nothing(monkeypatch):
    sheets = edition()
    sheets["5"] = disc(sheets["5"], 22.0, 8.1, 0.6, 0.9)
    sheets["6"] = bar(sheets["6"], 21.0, 12.0, 6.0, 0.25, 0.0)
    whole = found_in(sheets)
    monkeypatch.setattr(picture, "MOST_CELLS", SHAPE[1] * len(sheets) * 32)
    in_strips = found_in(sheets)
    assert [(p.pull, p.kind) for p in in_strips.places] == [(p.pull, p.kind) for p in whole.places]
    for one, other in zip(in_strips.places, whole.places, strict=True):
        assert np.hypot(one.x_mm - other.x_mm, one.y_mm - other.y_mm) < 0.05


def test_what_a_scan_does_not_show_is_no_place():
    sheets = {pull: codes(one) for pull, one in edition().items()}
    sheets["3"][:, 200:] = NO_SHEET
    for one in sheets.values():
        one[:10] = NO_SHEET
    assert found_in(sheets).places == ()


@pytest.mark.parametrize("count", [1, 2])
def test_two_sheets_cannot_tell_whose_mark_it_is(count):
    found = found_in(edition(count))
    assert found.places == ()
    assert f"there are {count}" in found.remarks[0]


def test_few_sheets_are_said_to_be_few():
    sheets = edition(4)
    sheets["2"] = disc(sheets["2"], 6.0, 9.0, 0.6, 0.9)
    found = found_in(sheets)
    assert [place.pull for place in found.places] == ["2"]
    assert "4 sheets only" in found.remarks[0]


def test_the_same_scan_many_times_has_no_places():
    one = codes(edition(1)["1"])
    assert found_in({str(k): one.copy() for k in range(5)}).places == ()


def test_a_sheet_full_of_marks_is_said_to_differ_as_a_whole():
    sheets = edition()
    rng = np.random.default_rng(1)
    for x in range(2, 28, 3):
        for y in range(2, 23, 3):
            sheets["5"] = disc(sheets["5"], x + rng.uniform(), y + rng.uniform(), 0.5, 0.9)
    found = found_in(sheets)
    assert len(found.places) == 40
    assert any("differs as a whole" in remark for remark in found.remarks)
