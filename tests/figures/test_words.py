"""Every measure has a name of its own, and numbers read as people write them."""

import pytest

from proofkit import columns
from proofkit.figures.words import MEASURE_WORDS, TELLING, axis_title, bare_number, measure_word, number

NUMBERS = [
    column.name
    for column in columns.MEASURES + columns.SHEETS + columns.FIGURES
    if column.kind == "number" and column.name not in {"ppi_x", "ppi_y"}
]


@pytest.mark.parametrize("name", NUMBERS)
def test_every_measure_has_a_name(name):
    assert name in MEASURE_WORDS
    assert "_" not in measure_word(name)


def test_no_two_measures_share_a_name():
    assert len(set(MEASURE_WORDS.values())) == len(MEASURE_WORDS)


def test_no_name_without_a_measure():
    assert set(MEASURE_WORDS) <= set(NUMBERS)
    assert set(TELLING) <= set(NUMBERS)


@pytest.mark.parametrize("name", NUMBERS)
def test_every_axis_says_what_its_numbers_are(name):
    assert axis_title(name).strip() not in {"", "-"}


def test_minus_nought_is_nought():
    assert bare_number("plate_tone_density", -0.0001) == "0.000"


def test_missing_is_a_dash_and_never_nought():
    assert number("line_load_um", float("nan")) == "–"
    assert number("line_load_um", float("inf")) == "–"
