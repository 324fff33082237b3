import pytest

from proofkit.judgement.causes import cause_table
from proofkit.judgement.readings import Reading
from proofkit.judgement.reason import clause, noted_otherwise
from proofkit.judgement.symptoms import embossing_of

WORDS = cause_table().symptoms


@pytest.mark.parametrize(
    ("symptom", "reading", "said"),
    [
        ("load", Reading(-2, 41.0, 50.0, -6.0), "line load 18 % below the standard"),
        ("film", Reading(2, 0.085, 0.04, 5.0), "film 0.045 D above the standard"),
        ("continuity", Reading(-2, 0.71, 0.99, -9.0), "broken lines (continuity 0.71 against 0.99)"),
        ("crease", Reading(2, 34.6, 0.0, 9.0), "a crease of 35 mm"),
        ("load", Reading(0, 50.0, 50.0, 0.0), "line load unchanged"),
    ],
)
def test_observations_carry_number_and_unit(symptom, reading, said):
    assert clause(WORDS[symptom], reading) == said


@pytest.mark.parametrize(
    ("note", "strength", "unevenness"),
    [
        ("weak", -2, 0),
        ("faint plate mark", -2, 0),
        ("uneven", 0, 2),
        ("weak on the left", -2, 2),
        ("clear, even", 0, 0),
        ("Good", 0, 0),
        ("bright and full", 0, 0),
        ("not even", 0, 2),
        ("good, not weak anywhere", 0, 0),
    ],
)
def test_notes_on_embossing_are_read(note, strength, unevenness):
    assert embossing_of(note) == (strength, unevenness)


@pytest.mark.parametrize("note", ["", "  ", "see log", "not looked at"])
def test_notes_that_say_nothing_are_no_evidence(note):
    assert embossing_of(note) is None


def test_another_recipe_is_told():
    notes = {"1": {"paper": "wove", "ink": "batch 1"}, "5": {"paper": "wove, short soak", "ink": "batch 1"}}
    assert noted_otherwise(notes, "5", "1") == (
        " Noted otherwise than the standard: paper 'wove, short soak' (standard: 'wove')."
    )
    assert noted_otherwise(notes, "7", "1") == ""
