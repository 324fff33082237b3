"""What a person decides stands beside the program's view and survives every run."""

import pandas as pd

from proofkit.check import check
from proofkit.ledger.deciding import decide, read_decisions


def read(folder, name):
    return pd.read_csv(folder / "results" / f"{name}.csv", dtype=str, keep_default_na=False)


def test_a_new_run_leaves_decisions_alone_and_the_view_of_the_program_too(checked):
    before = read(checked, "judgement")
    decide(checked, "2", "set aside", reason="=thumb mark, lower margin", by="A.L.")
    first = read_decisions(checked)
    result = check(checked)
    assert result.new_sheets == 0
    assert read(checked, "judgement").equals(before)
    assert read_decisions(checked).equals(first)
    (row,) = read(checked, "decisions").to_dict("records")
    assert (row["pull"], row["decision"], row["by"]) == ("2", "set aside", "A.L.")
    assert row["reason"] == "'=thumb mark, lower margin"
    page = result.report.read_text(encoding="utf-8")
    assert "Decided by a person" in page
    assert "set aside: =thumb mark, lower margin (A.L., " in page


def test_a_decision_that_was_taken_back_leaves_the_report_and_stays_in_the_table(checked):
    decide(checked, "2", "set aside", reason="", by="A.L.")
    decide(checked, "4", "second", reason="", by="A.L.")
    decide(checked, "2", "taken back", reason="wrong sheet", by="A.L.")
    page = check(checked).report.read_text(encoding="utf-8")
    assert "second (A.L., " in page
    assert "set aside (A.L., " not in page
    assert "wrong sheet" not in page
    assert [row["decision"] for row in read(checked, "decisions").to_dict("records")] == [
        "set aside", "second", "taken back",
    ]  # fmt: skip


def test_a_decision_about_a_pull_that_left_the_edition_is_told(checked):
    decide(checked, "5", "spoiled", reason="", by="P")
    pulls = checked / "pulls.csv"
    rows = pulls.read_text().splitlines()
    pulls.write_text("\n".join(row for row in rows if not row.startswith("5,")) + "\n")
    result = check(checked)
    assert any("'5'" in remark and "kept in the ledger" in remark for remark in result.judged.remarks)
    assert len(read(checked, "decisions")) == 1
