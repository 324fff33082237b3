"""A pyramid is made once, told from a changed scan, and never keeps more of the disk than it may."""

import errno
import os
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

import proofkit
from proofkit.errors import ScanError
from proofkit.folder.edition import Capture, Edition, Pull
from proofkit.pyramid import open_pyramid, ready_pyramid
from proofkit.pyramid.cache import READING, _program, forget_oldest
from proofkit.pyramid.file import make_pyramid
from tests.scan.scan_files import pixels, write_tiff

PULL = Pull("1", "a.tif")


@pytest.fixture
def edition(tmp_path):
    (tmp_path / "scans").mkdir()
    write_tiff(tmp_path / "scans" / "a.tif", pixels(8, 1))
    return Edition(tmp_path, "Quarry", (PULL,), (), None, capture=Capture(tone_curve="linear"))


def written(folder: Path) -> list[tuple[str, int, int]]:
    return sorted((f.name, f.stat().st_ino, f.stat().st_size) for f in (folder / "pyramids").iterdir())


def test_it_is_made_once(edition):
    assert ready_pyramid(edition, PULL, edition.folder) is None
    first = open_pyramid(edition, PULL, edition.folder)
    before = written(edition.folder)
    assert (
        open_pyramid(edition, PULL, edition.folder) == first == ready_pyramid(edition, PULL, edition.folder)
    )
    assert written(edition.folder) == before
    assert len(before) == 1


def test_a_touched_scan_keeps_its_levels(edition):
    open_pyramid(edition, PULL, edition.folder)
    before = written(edition.folder)
    os.utime(edition.folder / "scans" / "a.tif", (1, 1))
    assert ready_pyramid(edition, PULL, edition.folder) is None
    again = open_pyramid(edition, PULL, edition.folder)
    assert written(edition.folder) == before
    assert ready_pyramid(edition, PULL, edition.folder) == again


@pytest.mark.parametrize("package", ["scan", "reflectance", "pyramid"])
def test_one_of_an_older_program_is_made_anew(edition, monkeypatch, tmp_path, package):
    """By a copy of the package's files in which one was changed since."""
    first = open_pyramid(edition, PULL, edition.folder)
    root = tmp_path / "copy" / "proofkit"
    for name in READING:
        shutil.copytree(Path(proofkit.__file__).parent / name, root / name)
    monkeypatch.setattr(proofkit, "__file__", str(root / "__init__.py"))
    monkeypatch.setattr("proofkit.pyramid.cache._program", _program.__wrapped__)
    assert ready_pyramid(edition, PULL, edition.folder) == first
    with (root / package / "types.py").open("a", encoding="utf-8") as changed:
        changed.write("# since then\n")
    assert ready_pyramid(edition, PULL, edition.folder) is None
    assert open_pyramid(edition, PULL, edition.folder).setup != first.setup


def test_another_scan_or_curve_makes_it_anew(edition):
    first = open_pyramid(edition, PULL, edition.folder)
    write_tiff(edition.folder / "scans" / "a.tif", pixels(8, 1, seed=2))
    second = open_pyramid(edition, PULL, edition.folder)
    assert second.sha256 != first.sha256
    darker = replace(edition, capture=Capture(tone_curve="gamma 2.2"))
    assert ready_pyramid(darker, PULL, edition.folder) is None
    assert open_pyramid(darker, PULL, edition.folder).curve != second.curve


def test_a_scan_that_is_none_leaves_nothing_behind(edition):
    (edition.folder / "scans" / "a.tif").write_bytes(b"II*\0 and nothing more")
    with pytest.raises(ScanError, match=r"a\.tif"):
        open_pyramid(edition, PULL, edition.folder)
    assert not (edition.folder / "pyramids").exists() or not written(edition.folder)


def test_on_a_disk_that_is_full_there_is_one_line_and_nothing_half(edition, monkeypatch):
    def write(_file, _curve, _levels, out):
        out.write(b"half a level")
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("proofkit.pyramid.file._write_levels", write)
    with pytest.raises(
        ScanError, match=r"cannot be written to .* \(No space left on device\)\. Make room"
    ) as told:
        open_pyramid(edition, PULL, edition.folder)
    assert "\n" not in str(told.value)
    assert list((edition.folder / "pyramids").iterdir()) == []


def test_a_scan_that_is_written_while_it_is_read_is_told_and_keeps_no_levels(edition, monkeypatch):
    def while_the_scanner_goes_on(*arguments, **named):
        made = make_pyramid(*arguments, **named)
        write_tiff(edition.folder / "scans" / "a.tif", pixels(8, 1, seed=3))
        return made

    monkeypatch.setattr("proofkit.pyramid.cache.make_pyramid", while_the_scanner_goes_on)
    with pytest.raises(ScanError, match=r"'a\.tif' is being written just now\. Open the sheet again"):
        open_pyramid(edition, PULL, edition.folder)
    assert written(edition.folder) == []
    monkeypatch.undo()
    assert open_pyramid(edition, PULL, edition.folder).sha256


def test_the_longest_unused_go_first(tmp_path):
    for number, name in enumerate("abcd"):
        (tmp_path / f"{name}.pyramid").write_bytes(bytes(100))
        os.utime(tmp_path / f"{name}.pyramid", (number, number))
    forget_oldest(tmp_path, 250, keep=tmp_path / "a.pyramid")
    assert sorted(path.stem for path in tmp_path.iterdir()) == ["a", "d"]
