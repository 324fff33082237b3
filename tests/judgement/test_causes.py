import pytest

from proofkit.columns import CAUSES
from proofkit.judgement.causes import Seen, cause_table, chances, evidence, explains, named, weigh

TABLE = cause_table()
CLEAR = {"--": -2, "-": -2, "-=": -1, "=": 0, "+=": 1, "+": 2, "++": 2, "!+": 2, "+-": 2, "~": 0}


def perfect(cause):
    """The readings of a sheet that shows a cause as its row says, and is as the standard in all else."""
    return {symptom: CLEAR[TABLE.causes[cause].get(symptom, "=")] for symptom in TABLE.symptoms}


def test_every_cause_word_has_a_row():
    assert set(TABLE.causes) == set(CAUSES)


@pytest.mark.parametrize("sign", ["--", "-", "-=", "=", "+=", "+", "++", "!+", "+-", "~"])
def test_chances_are_chances(sign):
    assert sum(chances(sign)) == pytest.approx(1.0)
    assert min(chances(sign)) > 0


@pytest.mark.parametrize("cause", CAUSES)
def test_rows_can_be_told_apart(cause):
    # A sheet exactly as one row says must not be explained better by another: else the two rows are one.
    levels = perfect(cause) | ({"blur": 2} if cause == "scan" else {})
    levels |= {"dark_specks": 2} if cause == "specks" else {}
    assert weigh(Seen(levels), TABLE)[0].causes[0] == cause


def test_a_good_pull_has_no_cause():
    assert weigh(Seen(dict.fromkeys(TABLE.symptoms, 0)), TABLE) == ()


def test_what_was_not_seen_speaks_neither_way():
    levels = {"load": -2, "film": -2}
    assert explains(TABLE.causes["overwiped"], Seen(levels), TABLE) == explains(
        {name: TABLE.causes["overwiped"][name] for name in levels}, Seen(levels), TABLE
    )


@pytest.mark.parametrize(
    ("note", "first"),
    # Clean-wiped standard: all three look alike but for the noted embossing and the grain (the trade's blind spot).
    [
        ({"embossing": -2}, "low pressure"),
        ({"embossing": 0, "load_grain": 2, "load_variation": 2}, "dry paper"),
    ],
)
def test_embossing_and_grain_decide_where_film_cannot_fall(note, first):
    levels = {
        "load": -2,
        "core": -2,
        "width": -1,
        "continuity": -1,
        "whole_sheet": 2,
        "fine_against_broad": 0,
    } | note
    assert weigh(Seen(levels), TABLE)[0].causes == (first,)


def test_too_little_ink_is_not_too_much_wiping():
    broken = {
        "load": -2,
        "continuity": -2,
        "load_variation": 2,
        "film": 0,
        "fine_against_broad": 0,
        "embossing": 0,
    }
    assert weigh(Seen(broken), TABLE)[0].causes == ("under-inked",)
    wiped = {
        "load": -2,
        "continuity": -1,
        "load_variation": 0,
        "film": -2,
        "fine_against_broad": -2,
        "embossing": 0,
    }
    assert weigh(Seen(wiped), TABLE)[0].causes == ("overwiped",)


def test_skirts_with_clean_open_ground_are_retroussage():
    levels = {"gaps": 2, "halo": 2, "width": 2, "softness": 2, "open_film": 0, "film": 0, "openness": -1}
    assert weigh(Seen(levels), TABLE)[0].causes == ("retroussage",)


def test_both_ramps_the_same_way_are_pressure():
    ramps = {"load_ramp": 2, "film_ramp": 2, "ramps_agree": 2, "load": 0}
    assert weigh(Seen(ramps), TABLE)[0].causes == ("uneven pressure",)
    film_only = {"load_ramp": 0, "film_ramp": 2, "film_patch": 2, "ramps_agree": -2, "load": 0}
    assert weigh(Seen(film_only), TABLE)[0].causes == ("uneven wiping",)


def test_two_faults_on_one_sheet_are_both_named():
    levels = perfect("crease") | {"bevel": 2}
    causes, tied = named(weigh(Seen(levels), TABLE))
    assert set(causes) == {"crease", "bevel ink"}
    assert not tied


def test_alike_causes_are_tied():
    causes, tied = named(weigh(Seen({"load": -2, "core": -2, "continuity": -2}), TABLE))
    assert tied
    assert len(causes) > 1


def test_evidence_is_for_and_against():
    levels = {"load": -2, "continuity": -2, "load_variation": 0, "film": 0, "halo": 2}
    supports, denies = evidence("under-inked", Seen(levels), TABLE)
    assert {"load", "continuity", "film"} <= set(supports)
    assert "load_variation" in denies
    assert "halo" in denies


def test_what_cannot_fall_is_no_evidence_against_a_cause_that_lowers_it():
    levels = {"load": -2, "core": -2, "film": 0, "gaps": 0}
    blind = Seen(levels, frozenset({"film", "gaps"}))
    lowers, raises = TABLE.causes["overwiped"], TABLE.causes["underwiped"]
    assert explains(lowers, blind, TABLE) > explains(lowers, Seen(levels), TABLE)
    assert explains(raises, blind, TABLE) == explains(raises, Seen(levels), TABLE)


def doubled_sheet(**more):
    """A doubled sheet, read as such are: what the second set does to lines differs from region to region."""
    spreads = {
        "doubling": 13.0,
        "load": -2.5,
        "load_ramp": 5.0,
        "load_patch": 2.6,
        "load_variation": 3.2,
        "gaps": 9.8,
    }
    spreads |= more
    levels = {name: (2 if z > 0 else -2) if abs(z) >= 2 else 0 for name, z in spreads.items()}
    return Seen(levels, spreads=spreads)


def test_what_a_second_set_does_to_the_lines_is_no_second_cause():
    assert weigh(doubled_sheet(), TABLE)[0].causes == ("doubled",)


def test_a_second_cause_shows_beside_doubling_by_what_no_second_set_does():
    first, second = weigh(doubled_sheet(film=9.0, tone=6.0), TABLE)[0].causes
    assert first == "doubled"
    assert TABLE.causes[second]["film"].startswith("+")
