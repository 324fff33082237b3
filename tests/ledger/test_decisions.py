import sqlite3
from datetime import UTC, datetime

import pytest

from proofkit.columns import DECISIONS, names
from proofkit.errors import LedgerError
from proofkit.ledger.connection import close_ledger, open_ledger
from proofkit.ledger.decisions import add_decision, decisions


def test_decisions_come_back_in_the_order_in_which_they_were_made(ledger):
    when = datetime(2024, 5, 17, 9, 30, tzinfo=UTC)
    add_decision(ledger, "3", "keep", reason="", by="A.B.", at=when)
    add_decision(ledger, "3", "second", reason="Falte'); drop table proofkit_decisions; --", by="C")
    table = decisions(ledger)
    assert list(table.columns) == names(DECISIONS)
    assert table["decision"].tolist() == ["keep", "second"]
    assert table["at"][0] == "2024-05-17T09:30:00+00:00"
    assert table["reason"][1] == "Falte'); drop table proofkit_decisions; --"


def test_a_ledger_without_decisions_gives_an_empty_table(ledger):
    assert decisions(ledger).empty
    assert list(decisions(ledger).columns) == names(DECISIONS)


@pytest.mark.parametrize(
    "statement", ["update proofkit_decisions set decision = 'keep'", "delete from proofkit_decisions"]
)
def test_no_program_can_change_a_decision(ledger, statement):
    add_decision(ledger, "3", "spoiled", reason="torn", by="A")
    plain = sqlite3.connect(ledger.name)
    with pytest.raises(sqlite3.IntegrityError, match="only ever added"):
        plain.execute(statement)
    plain.close()
    assert decisions(ledger)["decision"].tolist() == ["spoiled"]


def test_editions_that_share_a_ledger_keep_their_decisions_apart(tmp_path):
    first, second = (open_ledger(tmp_path / "studio.sqlite", edition) for edition in ("Harbour", "Mill"))
    add_decision(first, "1", "keep", reason="", by="A")
    add_decision(second, "1", "spoiled", reason="", by="A")
    assert decisions(first)["decision"].tolist() == ["keep"]
    assert decisions(second)["decision"].tolist() == ["spoiled"]
    close_ledger(first)
    close_ledger(second)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"pull": " "}, "names no pull"),
        ({"decision": "good"}, "keep, second, set aside, spoiled"),
        ({"decision": "taken back"}, "No decision about pull '1' stands"),
        ({"by": ""}, "initials"),
        ({"by": "x" * 13}, "1 to 12"),
        ({"at": datetime(2024, 5, 17, 9, 30)}, "no time zone"),
    ],
)
def test_a_decision_that_is_none_is_told(ledger, change, told):
    with pytest.raises(LedgerError, match=told):
        add_decision(ledger, **{"pull": "1", "decision": "keep", "reason": "", "by": "A", **change})
    assert decisions(ledger).empty
