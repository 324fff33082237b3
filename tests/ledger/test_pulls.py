import math
import sqlite3

import pytest
from sqlalchemy import event

from proofkit.columns import MEASUREMENTS, names
from proofkit.ledger.connection import close_ledger, open_ledger, transaction
from proofkit.ledger.decisions import decisions
from proofkit.ledger.models import DecisionRecord, PullRecord
from proofkit.ledger.notes import known_hashes
from proofkit.ledger.pulls import kept_editions, kept_measurements, note_pulls
from proofkit.ledger.sheets import find_sheets, save_sheet
from tests.ledger.results import key_of, result_of


@pytest.fixture
def filled(any_ledger):
    """A ledger with three sheets, of which pulls 7 and 10 of `Harbour` are known."""
    for number in range(3):
        save_sheet(any_ledger, key_of(scan=str(number)), result_of(number))
    note_pulls(any_ledger, {"10": ("ten.tif", key_of("1")), "7": ("seven.tif", key_of("2"))})
    return any_ledger


def test_measurements_come_back_by_edition_and_pull(filled):
    table = kept_measurements(filled, "Harbour")
    assert list(table.columns) == names(MEASUREMENTS)
    assert (
        list(zip(table["pull"], table["scan"], strict=True))
        == [("10", "ten.tif")] * 2 + [("7", "seven.tif")] * 2
    )
    assert table["tone_fraction"].tolist() == [
        row["tone_fraction"] for seed in (1, 2) for row in result_of(seed).rows
    ]
    assert all(math.isnan(value) for value in table["line_width_um"])
    only = kept_measurements(filled, "Harbour", "7")
    assert only["tone_fraction"].tolist() == table["tone_fraction"].tolist()[2:]
    assert kept_measurements(filled, "Mill").empty
    assert kept_editions(filled) == ["Harbour"]


def test_the_last_check_of_an_edition_stands(filled):
    note_pulls(filled, {"7": ("seven.tif", key_of("0"))})
    assert kept_measurements(filled, "Harbour")["pull"].tolist() == ["7", "7"]


def test_a_sheet_that_is_not_kept_is_left_out(filled):
    note_pulls(filled, {"7": ("seven.tif", key_of("e"))})
    assert kept_measurements(filled, "Harbour").empty


def test_editions_keep_their_pulls_apart(tmp_path):
    first, second = (open_ledger(tmp_path / "studio.sqlite", edition) for edition in ("Harbour", "Mill"))
    save_sheet(first, key_of(), result_of())
    for ledger in (first, second):
        note_pulls(ledger, {"1": ("a.tif", key_of())})
    note_pulls(first, {})
    assert kept_editions(second) == ["Mill"]
    close_ledger(first)
    close_ledger(second)


def test_many_sheets_come_back_at_once(filled):
    keys = [key_of(str(number)) for number in range(5)]
    assert set(find_sheets(filled, keys)) == set(keys[:3])


def test_tables_that_came_later_are_added_to_an_older_ledger(tmp_path):
    ledger = open_ledger(tmp_path / "ledger.sqlite")
    transaction(ledger, lambda session: PullRecord.__table__.drop(session.connection()))
    close_ledger(ledger)
    ledger = open_ledger(tmp_path / "ledger.sqlite")
    note_pulls(ledger, {})
    assert transaction(ledger, lambda session: session.query(DecisionRecord).count()) == 0
    close_ledger(ledger)


def test_no_question_walks_through_a_whole_table(tmp_path):
    # SQLite, EXPLAIN QUERY PLAN: SEARCH goes by an index, SCAN reads every row of a table.
    ledger = open_ledger(tmp_path / "ledger.sqlite", "Harbour")
    save_sheet(ledger, key_of(), result_of())
    asked = []
    event.listen(ledger.engine, "before_cursor_execute", lambda *call: asked.append(call[2:4]))
    note_pulls(ledger, {"1": ("a.tif", key_of())})
    find_sheets(ledger, [key_of()])
    kept_measurements(ledger, "Harbour", "1")
    known_hashes(ledger, [tmp_path / "ledger.sqlite"])
    decisions(ledger)
    questions = [(text, values) for text, values in asked if text.startswith("SELECT")]
    assert len(questions) >= 8
    with sqlite3.connect(tmp_path / "ledger.sqlite") as plain:
        for text, values in questions:
            plan = [row[3] for row in plain.execute(f"explain query plan {text}", values)]
            assert not any(step.startswith("SCAN proofkit_") for step in plan), (text, plan)
    plain.close()
    close_ledger(ledger)
