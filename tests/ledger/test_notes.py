import hashlib
import os
import time

import pytest

from proofkit.ledger import notes
from proofkit.ledger.notes import file_sha256, find_choice, find_plate_size, save_choice, save_plate_size

LONG_AGO = 1_600_000_000
LATER_S = 10.0


@pytest.fixture
def scan(tmp_path):
    """A file of known content that was written just now."""
    path = tmp_path / "a.tif"
    path.write_bytes(b"abc")
    os.utime(path, (LONG_AGO, LONG_AGO))
    return path


@pytest.fixture
def later(monkeypatch):
    """The clock is set some seconds ahead, so that files written just now have settled."""
    now = time.time
    monkeypatch.setattr(time, "time", lambda: now() + LATER_S)


def test_the_hash_is_that_of_the_published_example(ledger, scan):
    # FIPS 180-2, appendix B.1: SHA-256 of the three letters "abc"; digits from memory, as widely printed.
    published = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert file_sha256(ledger, scan) == published
    assert file_sha256(ledger, scan) == published


def test_a_file_that_has_not_changed_is_not_read_again(ledger, scan, later, monkeypatch):
    first = file_sha256(ledger, scan)
    monkeypatch.setattr(hashlib, "file_digest", lambda *_: pytest.fail("the file was read again"))
    assert file_sha256(ledger, scan) == first


def test_other_content_of_the_same_size_and_date_is_noticed(ledger, scan, later):
    file_sha256(ledger, scan)
    before = scan.stat().st_ctime_ns
    while scan.stat().st_ctime_ns == before:  # until the file system's clock has ticked
        scan.write_bytes(b"abd")
        os.utime(scan, (LONG_AGO, LONG_AGO))
    assert file_sha256(ledger, scan) == hashlib.sha256(b"abd").hexdigest()


def test_the_hash_of_a_file_that_is_still_being_written_is_not_kept(ledger, scan, monkeypatch):
    monkeypatch.setattr(notes, "place_stamp", lambda path: "the clock is too coarse to see a change")
    file_sha256(ledger, scan)
    scan.write_bytes(b"abd")
    assert file_sha256(ledger, scan) == hashlib.sha256(b"abd").hexdigest()


def test_plate_sizes_and_choices_are_kept(ledger):
    assert find_plate_size(ledger, "a" * 64) is None
    assert find_choice(ledger, "a" * 64) is None
    for _ in range(2):
        save_plate_size(ledger, "a" * 64, 148.0, 0.1 + 0.2)
        save_choice(ledger, "a" * 64, "b" * 64)
    assert find_plate_size(ledger, "a" * 64) == (148.0, 0.1 + 0.2)
    assert find_choice(ledger, "a" * 64) == "b" * 64
