"""What is read first, and how it is put."""

import pandas as pd
import pytest

from proofkit.report.cards import number_rows, worst_of_each
from proofkit.report.sentences import (
    _matching,
    in_words,
    looks_first,
    most_telling,
    paragraphs,
    regions_in_short,
    telling_order,
)
from proofkit.wording import listed
from tests.report import pile


def findings(*rows):
    names = ("pull", "region", "measure", "deviation")
    table = pd.DataFrame([dict(zip(names, row, strict=True)) for row in rows])
    return table.assign(value=1.0, standard_value=2.0, spread=0.1, direction="lower")


def test_what_names_a_fault_is_read_before_what_only_measures_distance():
    table = findings(
        ("9", "sky", "tone_distance_density", 30.0),
        ("9", "sky", "line_load_um", -4.0),
        ("9", "wall", "line_load_um", -6.0),
    )
    read = telling_order(table)
    assert list(read["measure"]) == ["line_load_um", "line_load_um", "tone_distance_density"]
    assert list(read["deviation"]) == [-6.0, -4.0, 30.0]
    assert set(read.columns) == set(table.columns)


def test_what_shows_the_cause_by_itself_comes_first():
    table = findings(("13", "wall", "plate_tone_density", 15.0), ("13", "sheet", "doubling_fraction", 11.0))
    assert list(telling_order(table, ["doubled"])["measure"]) == ["doubling_fraction", "plate_tone_density"]
    assert list(telling_order(table, ["underwiped"])["measure"]) == [
        "plate_tone_density",
        "doubling_fraction",
    ]


def test_what_differs_from_its_own_sheet_alone_is_read_after_what_differs_from_the_pile():
    table = findings(("9", "wall", "plate_tone_density", 7.4), ("9", "sheet", "film_ramp_x_density", -4.3))
    table.loc[0, "direction"] = "higher, for this sheet"
    assert list(telling_order(table)["region"]) == ["sheet", "wall"]
    assert most_telling(table.iloc[:1], ()) == "Plate tone, wall: higher, for this sheet (7.4 spreads)"


@pytest.mark.parametrize(
    ("pulls", "flagged", "told"),
    [
        (1, 0, "There is no other pull to lay beside it."),
        (2, 0, "The other one matches it within"),
        (2, 1, "The other one does not match it within"),
        (4, 2, "Of the 3 others, 1 matches it within"),
        (4, 3, "Of the 3 others, none matches it within"),
    ],
)
def test_the_summary_counts_in_words_that_fit_the_number(pulls, flagged, told):
    assert _matching(pulls - 1, pulls - 1 - flagged, " within the spread").startswith(told)


def test_a_measure_takes_one_row_and_names_where_else_it_is():
    table = findings(
        ("9", "sheet", "line_load_um", -9.0),
        ("9", "wall", "line_load_um", -6.0),
        ("9", "sky", "line_load_um", -4.0),
        ("9", "sheet", "crease_mm", 8.0),
    )
    shown = worst_of_each(table)
    assert list(shown["region"]) == ["sheet", "wall"]
    assert list(shown["also"]) == ["", "sky"]


def test_no_findings_need_no_rows():
    nothing = findings(("9", "sky", "line_load_um", -4.0)).iloc[:0]
    assert worst_of_each(nothing).empty
    assert telling_order(nothing).empty


def test_rows_read_with_unit_uncertainty_and_sign(measured, judged):
    found = judged.findings[judged.findings["pull"] == pile.OVERWIPED]
    row = number_rows(measured, found[found["measure"] == "plate_tone_density"])[0]
    assert row.value == "0.010 ± 0.002 D"  # 0.032 of the sky less 0.022, by construction
    assert row.deviation.startswith("−")
    assert row.word == "overwiped"


def test_the_farthest_sheet_is_looked_at_first(measured, judged):
    assert looks_first(measured, judged) == [pile.OVERWIPED, pile.UNDERWIPED]


@pytest.mark.parametrize("text", ["", "Within the natural spread of good pulls.", "Why? Nobody knows."])
def test_a_plain_reason_stays_one_paragraph(text):
    assert "".join(cause + said for cause, said in paragraphs(text)).replace(" ", "") == text.replace(" ", "")


def test_nothing_of_a_reason_is_lost():
    reason = (
        "Weak: load 9 % low; film unchanged. Dry paper? For: grain. Against: none. Under-inked? For: gaps."
    )
    told = paragraphs(reason)
    assert [cause for cause, _ in told] == ["", "Dry paper?", "Under-inked?"]
    assert " ".join(f"{cause} {said}".strip() for cause, said in told) == reason


def test_columns_in_sentences_become_words_and_other_words_stay():
    assert in_words("line_load_um and line_loads") == "line load and line_loads"


def test_long_lists_are_counted():
    assert listed([str(n) for n in range(1, 15)]).endswith("12 and 2 more")
    assert listed([]) == ""
    assert regions_in_short(["a", "b", "c", "d"]) == "a, b, c, d"
