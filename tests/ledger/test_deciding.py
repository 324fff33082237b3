import pytest

from proofkit.errors import FolderError, LedgerError
from proofkit.ledger.deciding import decide, decisions_without_pull, read_decisions, standing


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "pulls.csv").write_text("pull,scan\n1,a.tif\n2,b.tif\n", encoding="utf-8")
    return tmp_path


def test_what_is_decided_later_counts_and_what_was_decided_before_stays(folder):
    decide(folder, "2", "keep", reason="", by="A.L.")
    decide(folder, "1", "spoiled", reason="torn", by="A.L.")
    table = decide(folder, "2", "second", reason="fold in the corner", by="P")
    assert table["decision"].tolist() == ["keep", "spoiled", "second"]
    assert standing(table)["2"]["by"] == "P"
    assert read_decisions(folder).equals(table)


def test_what_was_taken_back_no_longer_counts_and_stays_written(folder):
    decide(folder, "2", "keep", reason="", by="A.L.")
    decide(folder, "2", "second", reason="fold in the corner", by="P")
    table = decide(folder, "2", "taken back", reason="the other sheet", by="P")
    assert standing(table)["2"]["decision"] == "keep"
    assert standing(table)["2"]["by"] == "A.L."
    table = decide(folder, "2", "taken back", reason="", by="A.L.")
    assert standing(table) == {}
    assert table["decision"].tolist() == ["keep", "second", "taken back", "taken back"]
    assert decisions_without_pull(table, []) == []
    with pytest.raises(LedgerError, match="No decision about pull '2' stands"):
        decide(folder, "2", "taken back", reason="", by="A.L.")
    table = decide(folder, "2", "set aside", reason="", by="A.L.")
    assert standing(table)["2"]["decision"] == "set aside"


def test_two_entries_alike_within_a_second_are_two(folder):
    for word in ("keep", "keep", "taken back", "taken back"):
        table = decide(folder, "1", word, reason="", by="A")
    assert len(table) == 4
    assert standing(table) == {}


def test_taking_back_is_about_one_pull_only(folder):
    decide(folder, "1", "keep", reason="", by="A")
    with pytest.raises(LedgerError, match="pull '2'"):
        decide(folder, "2", "taken back", reason="", by="A")
    assert standing(read_decisions(folder))["1"]["decision"] == "keep"


@pytest.mark.parametrize(("pull", "told"), [("7", "allowed are 1, 2"), ("", "allowed are 1, 2")])
def test_a_pull_that_is_not_there_cannot_be_decided_about(folder, pull, told):
    with pytest.raises(LedgerError, match=told):
        decide(folder, pull, "keep", reason="", by="A")
    assert read_decisions(folder).empty


def test_a_folder_that_is_no_edition_is_told(tmp_path):
    with pytest.raises(FolderError, match="does not exist"):
        decide(tmp_path / "nowhere", "1", "keep", reason="", by="A")


def test_a_decision_outlives_its_pull(folder):
    table = decide(folder, "2", "keep", reason="", by="A")
    (line,) = decisions_without_pull(table, ["1"])
    assert "'2'" in line
    assert "kept in the ledger" in line
    assert decisions_without_pull(table, ["1", "2"]) == []
