import csv
import io

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from proofkit.folder.naming import inside_path, natural_key
from proofkit.folder.pulls import read_pulls


def read(folder, content):
    """Return pulls, problems and remarks of a pulls.csv with these bytes."""
    (folder / "pulls.csv").write_bytes(content)
    problems, remarks = [], []
    return read_pulls(folder, problems, remarks), problems, remarks


@pytest.mark.parametrize(
    "content",
    [
        b"pull,scan,note\n1,a.tif,Gr\xc3\xbcn\n2,b.tif,\n",
        b"\xef\xbb\xbfpull,scan,note\r\n1,a.tif,Gr\xc3\xbcn\r\n2,b.tif,\r\n",
        b"pull;scan;note\n1;a.tif;Gr\xc3\xbcn\n2;b.tif;\n",
        b'"Pull","Scan","Note"\r\n"1","a.tif","Gr\xc3\xbcn"\r\n\r\n"2","b.tif",""\r\n',
        b" pull , scan , note \n 1 , a.tif , Gr\xc3\xbcn \n2,scans/b.tif\n,,\n",
        b"scan,note,pull\na.tif,Gr\xc3\xbcn,1\n./b.tif,,2",
    ],
    ids=[
        "plain",
        "byte order mark and CRLF",
        "semicolons",
        "all quoted",
        "blanks and short rows",
        "other order",
    ],
)
def test_any_spreadsheet_program_may_have_written_it(tmp_path, content):
    pulls, problems, _ = read(tmp_path, content)
    assert problems == []
    assert [(pull.pull, pull.scan, pull.notes) for pull in pulls] == [
        ("1", "a.tif", {"note": "Grün"}),
        ("2", "b.tif", {}),
    ]


@pytest.mark.parametrize(
    ("content", "line", "told"),
    [
        (b"", None, "empty"),
        (b"pull,scan\n", None, "names no pull"),
        (b"pull,file\n1,a.tif\n", 1, "no column scan"),
        (b"pull,pull,scan\n1,1,a.tif\n", 1, "twice"),
        (b"pull,scan\n1,a.tif\n2,a.tif\n", 3, "scan 'a.tif' stands in line 2"),
        (b"pull,scan\n1,a.tif\n2,scans/a.tif\n", 3, "stands in line 2"),
        (b"pull,scan\n1,a.tif\n1,b.tif\n", 3, "pull '1' stands in line 2"),
        (b"pull,scan\n1,../a.tif\n", 2, "leads out of the edition"),
        (b"pull,scan\n1,/etc/hostname\n", 2, "leads out of the edition"),
        (b"pull,scan\n1,C:\\scans\\a.tif\n", 2, "leads out of the edition"),
        (b"pull,scan\n1,sub\\..\\..\\a.tif\n", 2, "leads out of the edition"),
        (b"pull,scan\n,a.tif\n", 2, "pull is empty"),
        (b"pull,scan\n1,\n", 2, "scan is empty"),
        (b"pull,scan\n1,a.tif,b.tif\n", 2, "3 cells"),
        (b"pull,scan\n1,a.tif\n2,caf\xe9.tif\n", 3, "0xe9"),
        (b"\xff\xfep\0u\0l\0l\0", None, "UTF-16"),
        (b"pull,scan\n1,a.tif\0\n", 2, "NUL"),
        (b'pull,scan\n1,"a.tif\n', 2, "quotation marks"),
        (b"pull,scan,bed\n1,a.tif,sideways\n", 2, "allowed is turned"),
        (b"pull,scan,corners\n1,a.tif,1 2 3 4\n", 2, "4 parts"),
        (b"pull,scan,corners\n1,a.tif,0 0 9 0 9 9 0 inf\n", 2, "eight numbers"),
        (b"pull,scan,corners\n1,a.tif,0 0 9 9 9 0 0 9\n", 2, "no four-sided plate"),
        (b"pull,scan\n" + b"9" * 100 + b",a.tif\n", 2, "up to 80"),
    ],
)
def test_a_wrong_row_is_told_in_one_line_with_its_number(tmp_path, content, line, told):
    _, problems, _ = read(tmp_path, content)
    assert len(problems) == 1
    assert problems[0].startswith("pulls.csv" + (f" line {line}:" if line else ""))
    assert told in problems[0]


def test_line_numbers_count_lines_inside_quoted_cells(tmp_path):
    _, problems, _ = read(tmp_path, b'pull,scan,note\n1,a.tif,"two\nlines"\n2,,\n')
    assert problems[0].startswith("pulls.csv line 4:")


@pytest.mark.parametrize(
    "text", ["1 2 30 2 30 40 1 40", "1,2;30,2;30,40;1,40", "1.0, 2.0 ; 30, 2\n30 40, 1 40"]
)
def test_corners_are_read_with_any_separator(tmp_path, text):
    pulls, problems, _ = read(tmp_path, f'pull,scan,corners\n1,a.tif,"{text}"\n'.encode())
    assert problems == []
    assert pulls[0].corners_px.tolist() == [[1, 2], [30, 2], [30, 40], [1, 40]]


def test_numbered_pulls_are_put_in_order_of_printing(tmp_path):
    pulls, _, remarks = read(tmp_path, b"pull,scan\n10,a.tif\n2,b.tif\n")
    assert [pull.pull for pull in pulls] == ["2", "10"]
    assert len(remarks) == 1


def test_named_pulls_keep_the_order_of_the_rows(tmp_path):
    pulls, _, remarks = read(tmp_path, b"pull,scan\nT10,a.tif\nT2,b.tif\n1,c.tif\n")
    assert [pull.pull for pull in pulls] == ["T10", "T2", "1"]
    assert remarks == []


def test_a_path_inside_the_edition_may_be_absolute(tmp_path):
    assert inside_path(str(tmp_path / "scans" / "a.tif"), tmp_path) == "a.tif"
    assert inside_path(str(tmp_path / "first day" / "a.tif"), tmp_path) == "first day/a.tif"


NAMES = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1, max_size=12)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(names=st.lists(NAMES, min_size=1, max_size=5, unique=True), delimiter=st.sampled_from(",;"))
def test_whatever_the_csv_module_writes_reads_back(tmp_path, names, delimiter):
    # The csv module of the standard library is the reference for quoting.
    text = io.StringIO(newline="")
    table = csv.writer(text, delimiter=delimiter)
    table.writerow(["pull", "scan", "note"])
    table.writerows([f"p{i}", f"{i}.tif", name] for i, name in enumerate(names))
    pulls, problems, _ = read(tmp_path, text.getvalue().encode())
    assert problems == []
    assert [pull.notes["note"] for pull in pulls] == names


@given(st.lists(st.integers(0, 10**6), unique=True))
def test_natural_order_of_numbers_is_their_order(numbers):
    assert sorted((f"pull {n}" for n in numbers), key=natural_key) == [f"pull {n}" for n in sorted(numbers)]


@given(st.text(max_size=30))
def test_no_text_leads_out_of_the_edition(tmp_path_factory, text):
    folder = tmp_path_factory.getbasetemp() / "edition"
    inside = inside_path(text, folder)
    if inside is not None:
        assert (folder / inside).resolve().is_relative_to(folder.resolve())
        assert ".." not in inside.split("/")
