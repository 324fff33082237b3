import pandas as pd
import pyarrow.dataset as ds
import pytest

from proofkit.errors import FolderError
from proofkit.ledger.connection import close_ledger, open_ledger
from proofkit.ledger.parquet import write_dataset
from proofkit.ledger.pulls import kept_measurements, note_pulls
from proofkit.ledger.sheets import save_sheet
from tests.ledger.results import key_of, result_of

TITLES = ("Harbour", "Mühle / Wehr: 2nd=state %20?", "2024")


@pytest.fixture
def studio(tmp_path):
    """A ledger of three editions of one pull each."""
    for number, title in enumerate(TITLES):
        ledger = open_ledger(tmp_path / "studio.sqlite", title)
        save_sheet(ledger, key_of(scan=str(number)), result_of(number))
        note_pulls(ledger, {"1": ("a.tif", key_of(scan=str(number)))})
        close_ledger(ledger)
    ledger = open_ledger(tmp_path / "studio.sqlite")
    yield ledger
    close_ledger(ledger)


def test_a_plain_reader_finds_each_edition_under_its_title(studio, tmp_path):
    assert len(write_dataset(studio, tmp_path / "set")) == len(TITLES)
    found = pd.read_parquet(tmp_path / "set")
    assert set(found["edition"].astype(str)) == set(TITLES)
    for title in TITLES:
        one = found.loc[found["edition"].astype(str) == title].drop(columns="edition").reset_index(drop=True)
        pd.testing.assert_frame_equal(one, kept_measurements(studio, title), check_exact=True)


def test_a_question_about_one_edition_opens_its_file_only(studio, tmp_path):
    write_dataset(studio, tmp_path / "set")
    parts = ds.dataset(tmp_path / "set", partitioning="hive").get_fragments(ds.field("edition") == "Harbour")
    assert [part.path.count("edition=Harbour") for part in parts] == [1]


def test_other_editions_stay_as_they_are(studio, tmp_path):
    first, *others = write_dataset(studio, tmp_path / "set", TITLES)
    before = [path.stat().st_mtime_ns for path in others]
    assert write_dataset(studio, tmp_path / "set", TITLES[:1]) == [first]
    assert [path.stat().st_mtime_ns for path in others] == before


def test_the_edition_of_a_ledger_of_its_own_is_called_as_asked(ledger, tmp_path):
    save_sheet(ledger, key_of(), result_of())
    note_pulls(ledger, {"1": ("a.tif", key_of())})
    write_dataset(ledger, tmp_path / "set", unnamed="Harbour")
    assert set(pd.read_parquet(tmp_path / "set")["edition"].astype(str)) == {"Harbour"}


def test_a_folder_that_cannot_be_made_is_told_in_one_line(studio, tmp_path):
    (tmp_path / "set").write_text("")
    with pytest.raises(FolderError, match="cannot be made") as caught:
        write_dataset(studio, tmp_path / "set")
    assert "\n" not in str(caught.value)
