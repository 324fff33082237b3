"""The page of trial proofs, from numbers that are given outright."""

import re

import numpy as np
import pytest

from proofkit.choice import weigh_candidates
from proofkit.report.choice_page import candidate_rows, sentences_of, wish_lines, write_choice_page
from tests.choice.proofs import CLEAN, OPEN, PALM, measured

HOSTILE = '<script>alert("x")</script>'


def picture(pull, box_mm, px_per_mm):
    side = round((box_mm[2] - box_mm[0]) * px_per_mm)
    return np.full((side, side), 0.7, dtype=np.float32)


@pytest.fixture
def choice_of(tmp_path):
    def choice_of(**changes):
        pile = measured(tmp_path, wishes=(CLEAN, OPEN), **changes)
        return pile, weigh_candidates(pile)

    return choice_of


def test_the_page_loads_nothing_runs_nothing_and_shows_each_wish_on_each_proof(choice_of, tmp_path):
    cells = {"1": {**PALM, "note": HOSTILE}, "2": PALM, "3": PALM}
    pile, choice = choice_of(cells=cells)
    path = tmp_path / "choice.html"
    write_choice_page(pile, choice, picture, path)
    page = path.read_text(encoding="utf-8")
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert re.findall(r"https?://", page) == []
    assert page.count('<span class="bar-frame"') == 6
    assert page.count("8 mm of plate") == 6
    assert 'aria-label="granted wholly' in page


def test_the_words_name_who_is_first_in_what_and_no_winner(choice_of):
    _, choice = choice_of()
    said = " ".join(sentences_of(choice))
    assert "Pull 1 is first in sky: clean." in said
    assert "Pull 3 is first in hull: darks open." in said
    assert "further trial" in said
    assert not re.search(r"\b(best|winner|score)\b", said)
    assert [line[0] for line in wish_lines(choice)] == ["sky: clean", "hull: darks open"]


def test_what_is_not_known_is_a_dash(choice_of):
    _, choice = choice_of()
    row = next(row for row in candidate_rows(choice) if row["pull"] == "3")
    assert (row["distance"], row["inside"], row["confirming"]) == ("–", "–", "none")


def test_a_scan_that_is_gone_costs_its_squares_only(choice_of, tmp_path):
    from proofkit.errors import ScanError  # noqa: PLC0415

    def gone(pull, box_mm, px_per_mm):
        if pull == "2":
            raise ScanError("gone")
        return picture(pull, box_mm, px_per_mm)

    pile, choice = choice_of()
    write_choice_page(pile, choice, gone, tmp_path / "choice.html")
    assert (tmp_path / "choice.html").read_text(encoding="utf-8").count("8 mm of plate") == 4
