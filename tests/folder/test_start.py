import tomllib

import pytest

from proofkit.errors import FolderError
from proofkit.folder.read import read_edition
from proofkit.folder.start import start_folder


def snapshot(folder):
    return {
        path.name: (path.read_bytes(), path.stat().st_mtime_ns)
        for path in folder.rglob("*")
        if path.is_file()
    }


@pytest.mark.parametrize("inside", ["scans", "."], ids=["in scans", "loose in the folder"])
def test_what_is_laid_out_reads_as_an_edition(tmp_path, inside):
    folder = tmp_path / 'The "Harbour" \\ dusk'
    (folder / inside).mkdir(parents=True, exist_ok=True)
    for name in ("10.tif", "2.png", "=1+1.tif"):
        (folder / inside / name).write_bytes(b"")
    before = snapshot(folder)
    made = start_folder(folder)
    assert [path.name for path in made] == ["edition.toml", "pulls.csv"]
    edition = read_edition(folder)
    assert edition.title == folder.name
    assert sorted(pull.scan for pull in edition.pulls) == ["10.tif", "2.png", "=1+1.tif"]
    assert all(edition.scan_path(pull).is_file() for pull in edition.pulls)
    assert {name: entry for name, entry in snapshot(folder).items() if name in before} == before
    assert "\n=" not in (folder / "pulls.csv").read_text()
    assert ",=" not in (folder / "pulls.csv").read_text()


def test_nothing_is_ever_replaced(harbour):
    before = snapshot(harbour)
    assert start_folder(harbour) == []
    assert snapshot(harbour) == before


def test_every_proposed_line_of_the_settings_can_be_taken_over(tmp_path):
    for n in range(1, 5):
        (tmp_path / f"{n}.tif").write_bytes(b"")
    start_folder(tmp_path)
    text = (tmp_path / "edition.toml").read_text()
    lines = [
        line[2:] if line.startswith("# ") and (" = " in line or "[" in line[:4]) else line
        for line in text.splitlines()
    ]
    filled = "\n".join(lines)
    assert tomllib.loads(filled)["capture"]["ppi"] == 600
    (tmp_path / "edition.toml").write_text(filled)
    edition = read_edition(tmp_path)
    assert (edition.standard, len(edition.confirming), len(edition.tolerances)) == ("1", 3, 2)
    assert edition.remarks == ()


def test_a_folder_without_scans_is_told_in_one_line(tmp_path):
    with pytest.raises(FolderError, match="no scans"):
        start_folder(tmp_path)
    assert list(tmp_path.iterdir()) == []
