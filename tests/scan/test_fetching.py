import shutil
import zipfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from proofkit.errors import ScanError
from proofkit.folder.edition import Capture, Edition, Pull
from proofkit.folder.pulls import read_pulls
from proofkit.scan import fetching
from proofkit.scan.fetching import fetched, is_there, remote_stamp
from proofkit.sheet import read_for_looking
from tests.scan.scan_files import pixels, write_tiff


@pytest.fixture
def archive(tmp_path):
    """A zip file with one scan in it; zip:// is the address of a file system that needs no network."""
    path = write_tiff(tmp_path / "a.tif", pixels(8, 3))
    with zipfile.ZipFile(tmp_path / "mill.zip", "w") as packed:
        packed.write(path, "first/a.tif")
    return tmp_path / "mill.zip"


@pytest.fixture
def pull(archive):
    return Pull("1", f"zip://first/a.tif::{archive}")


@pytest.fixture
def edition(tmp_path, pull):
    return Edition(tmp_path / "elsewhere", "Harbour", (pull,), (), "1", capture=Capture(tone_curve="sRGB"))


def test_a_fetched_scan_is_the_same_and_does_not_stay(edition, pull, tmp_path):
    with fetched(edition, pull) as path:
        assert path.name == "a.tif"
        assert path.read_bytes() == (tmp_path / "a.tif").read_bytes()
        with fetched(edition, pull) as again:
            assert again == path
        assert path.exists()
    assert not path.parents[1].exists()


def test_a_scan_elsewhere_is_read_as_one_on_this_machine(edition, pull, tmp_path):
    local = replace(edition, folder=tmp_path)
    there, here = read_for_looking(edition, pull), read_for_looking(local, Pull("1", "a.tif"))
    np.testing.assert_array_equal(there.plane, here.plane)
    assert there.file.sha256 == here.file.sha256


def test_it_is_fetched_once_for_all_that_read_it_at_the_same_time(edition, pull, monkeypatch):
    fetch, times = fetching._fetch, []
    monkeypatch.setattr(fetching, "_fetch", lambda *where: (times.append(where), fetch(*where)))
    with fetched(edition, pull), fetched(edition, pull):
        read_for_looking(edition, pull)
    assert len(times) == 1


def test_another_content_has_another_stamp(pull, archive, tmp_path):
    before = remote_stamp(pull.scan)
    assert before
    write_tiff(tmp_path / "a.tif", pixels(8, 3, seed=2))
    with zipfile.ZipFile(archive, "w") as packed:
        packed.write(tmp_path / "a.tif", "first/a.tif")
    assert remote_stamp(pull.scan) not in ("", before)


@pytest.mark.parametrize(
    ("address", "told"),
    [
        ("zip://first/b.tif::{archive}", "is not there"),
        ("zip://first/a.tif::/nowhere/mill.zip", "is not there"),
        ("carrier://pigeon/a.tif", "cannot be fetched"),
    ],
)
def test_what_cannot_be_fetched_is_told_in_one_line(edition, archive, address, told):
    with (
        pytest.raises(ScanError, match=told) as caught,
        fetched(edition, Pull("1", address.format(archive=archive))),
    ):
        pass
    assert "\n" not in str(caught.value)


def test_whether_it_is_there_is_asked_there(edition, pull, archive):
    assert is_there(edition, pull)
    assert not is_there(edition, Pull("2", f"zip://first/b.tif::{archive}"))
    assert not is_there(edition, Pull("3", "a.tif"))


def test_an_archive_that_is_damaged_costs_one_line(edition, pull, archive):
    archive.write_bytes(b"nothing")
    with pytest.raises(ScanError, match="cannot be fetched"), fetched(edition, pull):
        pass


def test_pulls_may_name_addresses(tmp_path, pull):
    (tmp_path / "pulls.csv").write_text(f"pull,scan\n1,{pull.scan}\n2,../b.tif\n")
    problems = []
    assert [found.scan for found in read_pulls(tmp_path, problems, [])] == [pull.scan]
    assert len(problems) == 1
    assert "leads out of the edition" in problems[0]


def test_a_copy_without_room_leaves_nothing_behind(edition, pull, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("fsspec.implementations.zip.ZipFileSystem.get_file", full)
    with pytest.raises(ScanError, match="No space left"), fetched(edition, pull):
        pass
    assert not Path(edition.scan_path(pull)).parent.exists()
    assert shutil.disk_usage(edition.scan_path(pull).parents[2]).free > 0
