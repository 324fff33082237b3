"""Files that are written in one step, and what killed programs leave of them."""

import errno
import os
import time

import pytest

from proofkit.errors import FolderError
from proofkit.folder.writing import ABANDONED_S, write_bytes
from proofkit.pyramid.cache import forget_oldest


def left(path, age_s):
    path.write_bytes(b"half a file")
    os.utime(path, (time.time() - age_s,) * 2)
    return path


def by_writing(folder):
    write_bytes(folder / "a[1].csv", b"whole")


def by_making_a_pyramid(folder):
    whole = folder / "0a.pyramid"
    whole.write_bytes(b"whole")
    forget_oldest(folder, 1_000, keep=whole)


@pytest.mark.parametrize(
    ("name", "write"),
    [(".a[1].csv.x7_k.part", by_writing), (".0b.pyramid.x7_k.part", by_making_a_pyramid)],
)
def test_drafts_of_a_killed_program_go_and_those_being_written_stay(tmp_path, name, write):
    old = left(tmp_path / name, ABANDONED_S + 60)
    fresh = left(tmp_path / name.replace("x7", "y8"), 60)
    others = [left(tmp_path / other, 10 * ABANDONED_S) for other in (".b.csv.x7_k.part", "film.part")]
    write(tmp_path)
    assert not old.exists()
    assert fresh.exists()
    assert all(other.exists() for other in others)


@pytest.mark.parametrize(
    ("why", "what_to_do"),
    [(errno.ENOSPC, "Make room on its disk"), (errno.EACCES, "Make its folder writable")],
)
def test_the_advice_fits_the_fault_and_the_old_file_stays(tmp_path, monkeypatch, why, what_to_do):
    path = write_bytes(tmp_path / "a.csv", b"old")

    def fail(_):
        raise OSError(why, os.strerror(why))

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(FolderError, match=f"a.csv cannot be written .*{what_to_do}"):
        write_bytes(path, b"new")
    assert [(file.name, file.read_bytes()) for file in tmp_path.iterdir()] == [("a.csv", b"old")]
