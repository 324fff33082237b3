import hashlib
import os
import shutil
import time

import pytest

from proofkit.errors import ScanError
from proofkit.folder.edition import Capture
from proofkit.reflectance import tone_curve
from proofkit.scan import open_scan, read_scan, reading
from proofkit.scan.hashing import file_hash, file_stamp
from tests.scan.scan_files import pixels, write_tiff

LONG_AGO = 1_600_000_000


@pytest.fixture
def settled(monkeypatch):
    """The clock is a minute ahead, so that files written just now have settled."""
    now = time.time
    monkeypatch.setattr(time, "time", lambda: now() + 60.0)


def test_the_hash_is_that_of_the_content(tmp_path, settled):
    path = tmp_path / "a.bin"
    path.write_bytes(b"abc")
    assert file_hash(path) == hashlib.sha256(b"abc").hexdigest()
    path.write_bytes(b"abcd")  # another size
    assert file_hash(path) == hashlib.sha256(b"abcd").hexdigest()


def test_a_settled_file_is_read_for_its_hash_once(tmp_path, settled, monkeypatch):
    path = tmp_path / "a.bin"
    path.write_bytes(b"once")
    first = file_hash(path)
    monkeypatch.setattr(hashlib, "file_digest", lambda *_: pytest.fail("the file was read again"))
    assert file_hash(path) == first


def test_a_file_written_just_now_is_not_believed_to_stay(tmp_path):
    path = tmp_path / "a.bin"
    path.write_bytes(b"abc")
    file_hash(path)
    stamp = file_stamp(path)
    path.write_bytes(b"abd")
    os.utime(path, ns=(path.stat().st_atime_ns, int(stamp.split()[2])))
    assert file_hash(path) == hashlib.sha256(b"abd").hexdigest()


@pytest.mark.parametrize("what", ["appended", "replaced", "removed"])
def test_a_scan_that_changes_while_it_is_read_is_refused(tmp_path, monkeypatch, what):
    path = write_tiff(tmp_path / "a.tif", pixels(8, 3))
    shutil.copyfile(path, tmp_path / "b.tif")
    file = open_scan(path)
    use = reading.use_pieces

    def changed(*arguments):
        yield from use(*arguments)
        if what == "appended":
            with path.open("ab") as more:
                more.write(b"0")
        elif what == "replaced":
            (tmp_path / "b.tif").replace(path)
        else:
            path.unlink()

    monkeypatch.setattr(reading, "use_pieces", changed)
    with pytest.raises(ScanError, match="while it was being read") as caught:
        read_scan(file, tone_curve(file, Capture(tone_curve="sRGB")))
    assert "\n" not in str(caught.value)
