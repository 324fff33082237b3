import pytest

from proofkit.errors import FolderError
from proofkit.folder.read import read_edition
from proofkit.study.relays import Relay, read_relays


@pytest.fixture
def folder(tmp_path):
    """An edition of two pulls; scans are named, not there."""
    (tmp_path / "pulls.csv").write_text("pull,scan\n1,1.tif\n2,2.tif\n", encoding="utf-8")
    return tmp_path


def relays(folder, text):
    (folder / "relays.csv").write_text(text, encoding="utf-8")
    return read_relays(read_edition(folder))


def test_rows_are_read_with_what_they_tell(folder):
    assert relays(folder, "pull;scan;day\n2;relays/a.tif;1\n2;./scans/2.tif;2\n") == (
        Relay("2", "relays/a.tif", "1"),
        Relay("2", "2.tif", "2"),
    )


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("pull,scan\n", "no sheet twice"),
        ("pull,scan\n1,a.tif\n2,b.tif\n", "no sheet twice"),
        ("pull,scan\n3,a.tif\n", "line 2: pull '3' is not in pulls.csv"),
        ("pull,scan\n1,../a.tif\n", "line 2: scan '../a.tif' is no file of the edition"),
        ("pull,scan\n1,\n", "line 2: scan ''"),
        ("pull,scan\n1,a.tif\n1,scans/a.tif\n", "line 3: scan 'a.tif' stands in line 2 already"),
        ("pull,scan,day\n1,a.tif,1\n1,b.tif,\n", "line 3: day is empty here and filled elsewhere"),
        (f"pull,scan,operator\n1,a.tif,{'x' * 41}\n1,b.tif,y\n", "too long"),
        ("pull\n1\n", "no column scan"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(folder, text, told):
    with pytest.raises(FolderError) as error:
        relays(folder, text)
    assert str(error.value).count("\n") == 0
    assert told in str(error.value)


def test_a_missing_file_is_asked_for_with_an_example(folder):
    with pytest.raises(FolderError, match=r"relays\.csv.*for example"):
        read_relays(read_edition(folder))
