import io

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from proofkit.check.results import csv_text, harmless
from proofkit.columns import JUDGEMENT, SHEETS, make_table


# The beginnings are those of OWASP's page "CSV Injection": = + - @ tab and carriage return (from memory).
@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_text_cell_begins_like_a_formula(start):
    table = make_table([{"pull": f"{start}HYPERLINK(1)", "verdict": "matches", "causes": start}], JUDGEMENT)
    (row,) = pd.read_csv(io.StringIO(csv_text(table, JUDGEMENT)), dtype=str, lineterminator="\n").to_dict(
        "records"
    )
    assert row["pull"].startswith("'")
    assert row["causes"].startswith("'")
    assert row["verdict"] == "matches"


def test_a_negative_number_is_no_formula():
    table = make_table([{"pull": "1", "shear": -0.001, "rotation_deg": -1e-7}], SHEETS)
    assert ",-0.001,-1e-07," in csv_text(table, SHEETS)


def test_what_was_not_measured_is_an_empty_cell_and_a_flag_is_a_word():
    table = make_table([{"pull": "1", "mirrored": True}, {"pull": "2"}], SHEETS)
    first, second = csv_text(table, SHEETS).splitlines()[1:]
    assert first.startswith("1,,,,,")
    assert ",true," in first
    assert ",false," in second
    assert "nan" not in first


def test_print_options_of_other_libraries_cost_no_digits():
    with np.printoptions(legacy="1.13"):  # as some scientific libraries set it when they are imported
        assert ",0.1234567890123456," in csv_text(
            make_table([{"pull": "1", "shear": 0.1234567890123456}], SHEETS), SHEETS
        )


@given(st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=1, max_size=5))
def test_numbers_read_back_to_the_last_bit(values):
    table = make_table([{"pull": "1", "shear": value} for value in values], SHEETS)
    lines = csv_text(table, SHEETS).splitlines()
    at = lines[0].split(",").index("shear")
    # Python's own float() is the reference reader.
    assert [float(line.split(",")[at]) for line in lines[1:]] == values


@given(st.text())
def test_harmless_text_only_ever_gains_an_apostrophe(text):
    assert harmless(text) in (text, f"'{text}")
    assert not harmless(text).startswith(("=", "+", "-", "@", "\t", "\r"))
