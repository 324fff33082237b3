import pytest

from proofkit.errors import FolderError
from proofkit.record.log import bring_in, enter, read_log


def test_without_a_log_there_are_no_entries(tmp_path):
    assert read_log(tmp_path) == ()


def test_an_entry_is_kept_in_order_of_printing_and_filled_up_later(tmp_path):
    enter(
        tmp_path, {"pull": "10", "kind": "A.P.", "soak_min": "30,0", "started": "9:05", "cloth_changed": "Y"}
    )
    enter(tmp_path, {"pull": "2", "note": "first of the day"})
    enter(tmp_path, {"pull": "10", "ended": "9:40", "note": "crisp"})
    assert read_log(tmp_path) == (
        {"pull": "2", "note": "first of the day"},
        {
            "pull": "10", "kind": "artist's proof", "soak_min": "30", "started": "09:05", "ended": "09:40",
            "cloth_changed": "yes", "note": "crisp",
        },
    )  # fmt: skip


def test_an_empty_cell_empties_it(tmp_path):
    enter(tmp_path, {"pull": "1", "note": "wrong"})
    enter(tmp_path, {"pull": "1", "note": ""})
    assert read_log(tmp_path) == ({"pull": "1"},)


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        ({"note": "x"}, "pull is missing; every pull has a number"),
        ({"pull": "1", "kind": "print"}, "kind 'print' is not known"),
        ({"pull": "1", "kind": "C.P."}, "Write the word in full"),
        ({"pull": "1", "status": "bad"}, "status 'bad' is not known"),
        ({"pull": "1", "soak_min": "-5"}, "soak_min is '-5' min, allowed is a number from 0"),
        ({"pull": "1", "soak_min": "half an hour"}, "allowed is a number"),
        ({"pull": "1", "plate_temperature_c": "110"}, "Fahrenheit"),
        ({"pull": "1", "room_rh_percent": "0.55"}, "percent, not a share of 1"),
        ({"pull": "1", "pulled_on": "11.3.2024"}, "a date such as 2024-03-11"),
        ({"pull": "1", "started": "25:00"}, "a time of day"),
        ({"pull": "1", "started": "10:00", "ended": "9:30"}, "ended is 09:30, before started"),
        ({"pull": "1", "sheet_dry_g": "50", "sheet_damp_g": "40"}, "a damp sheet is heavier"),
        (
            {"pull": "1", "pulled_on": "2024-03-11", "destroyed_on": "2024-03-01"},
            "destroyed_on is 2024-03-01, before",
        ),
        ({"pull": "1", "status": "keep", "destroyed_on": "2024-03-01"}, "status is keep"),
        ({"pull": "1", "cleaner": "=cmd()"}, "take for a formula"),
        ({"pull": "1", "colour": "x"}, "'colour' is no column of the pull log"),
    ],
)
def test_what_cannot_be_entered_is_said_in_one_line_and_nothing_is_written(tmp_path, cells, told):
    with pytest.raises(FolderError) as error:
        enter(tmp_path, cells)
    assert told in str(error.value)
    assert str(error.value).count("\n") == 0
    assert list(tmp_path.iterdir()) == []


def test_all_faults_of_a_log_are_told_with_their_lines(tmp_path):
    (tmp_path / "pull_log.csv").write_text(
        "pull,kind,soak_min,mood\n1,edition,-1,good\n1,proof,2,\n", encoding="utf-8"
    )
    with pytest.raises(FolderError) as error:
        read_log(tmp_path)
    told = str(error.value).splitlines()
    assert len(told) == 4
    assert sum("pull_log.csv line 3" in line for line in told) == 2
    assert sum("'mood' is no column" in line for line in told) == 1


def test_another_log_fills_gaps_and_replaces_nothing(tmp_path):
    enter(tmp_path, {"pull": "1", "ink": "batch 1"})
    other = tmp_path / "shop.csv"
    other.write_text("Pull;Ink;Paper;Mood\n1;batch 2;rag\n2;batch 2;rag;good\n", encoding="utf-8")
    added, remarks = bring_in(tmp_path, other)
    assert added == 2
    assert read_log(tmp_path) == (
        {"pull": "1", "ink": "batch 1", "paper": "rag"},
        {"pull": "2", "ink": "batch 2", "paper": "rag"},
    )
    assert len(remarks) == 2
    assert "'mood' is not known" in remarks[0]
    assert "ink is 'batch 1' in pull_log.csv and 'batch 2' in shop.csv" in remarks[1]


@pytest.mark.parametrize("text", ["pull\n1\n1\n", "pull,soak_min\n1,-3\n", "number\n1\n"])
def test_a_log_with_faults_is_not_brought_in(tmp_path, text):
    other = tmp_path / "shop.csv"
    other.write_text(text, encoding="utf-8")
    with pytest.raises(FolderError, match=r"shop\.csv"):
        bring_in(tmp_path, other)
    assert read_log(tmp_path) == ()


def test_a_missing_file_is_told(tmp_path):
    with pytest.raises(FolderError, match="is not there"):
        bring_in(tmp_path, tmp_path / "none.csv")
