"""A kept standard measures sheets as the one just made does, to the last bit; a damaged file is no standard."""

import errno
import zipfile
from dataclasses import fields, is_dataclass, replace

import numpy as np
import pytest
from shapely.geometry.base import BaseGeometry

from proofkit.sheet import make_standard, measure_sheet, without_scan
from proofkit.sheet.keeping import MOST_FILES, keep_standard, kept_standard
from proofkit.threads import threads_limited
from tests.sheet.proofs import Proof, write_proof

KEY = "a1" * 32


@pytest.fixture(scope="module")
def kept(bench, tmp_path_factory):
    folder = tmp_path_factory.mktemp("prepared")
    keep_standard(folder, KEY, bench.standard)
    return folder


def assert_same(one, other, where="standard"):
    assert type(one) is type(other), where
    if isinstance(one, np.ndarray):
        assert one.dtype == other.dtype, where
        assert np.array_equal(one, other, equal_nan=one.dtype.kind == "f"), where
    elif is_dataclass(one):
        for field in fields(one):
            assert_same(getattr(one, field.name), getattr(other, field.name), f"{where}.{field.name}")
    elif isinstance(one, tuple):
        assert len(one) == len(other), where
        for k, pair in enumerate(zip(one, other, strict=True)):
            assert_same(*pair, f"{where}[{k}]")
    elif isinstance(one, BaseGeometry):
        assert one.wkb == other.wkb, where
    else:
        assert one == other or (one != one and other != other), where  # noqa: PLR0124  NaN


def test_a_kept_standard_is_the_same_without_its_scan(bench, kept):
    assert_same(kept_standard(kept, KEY), without_scan(bench.standard))


def test_a_standard_is_the_same_by_any_number_of_threads(bench):
    (pull,) = bench.edition.pulls
    for most in (1, 3):
        with threads_limited(most):
            made = make_standard(bench.edition, pull)
        assert_same(without_scan(made), without_scan(bench.standard))


def test_a_sheet_measures_the_same_against_it(bench, kept):
    pull = write_proof(bench.folder, "kept_or_made", Proof(seed=31, film=0.03))
    made = measure_sheet(bench.edition, pull, without_scan(bench.standard))
    again = measure_sheet(bench.edition, pull, kept_standard(kept, KEY))
    assert repr(made.rows) == repr(again.rows)
    assert repr(made.sheet) == repr(again.sheet)
    assert np.array_equal(made.tone_picture, again.tone_picture, equal_nan=True)


def test_under_another_key_there_is_none(kept):
    assert kept_standard(kept, "b2" * 32) is None
    other = kept / f"{'b2' * 12}.standard"
    other.write_bytes((kept / f"{'a1' * 12}.standard").read_bytes())
    assert kept_standard(kept, "b2" * 32) is None
    other.unlink()


def test_no_damage_passes_for_a_standard(bench, kept, tmp_path):
    """A cut file, foreign bytes, another archive, and bytes turned over anywhere: none, or the very same standard."""
    whole = (kept / f"{'a1' * 12}.standard").read_bytes()
    path = tmp_path / f"{'a1' * 12}.standard"
    for content in (b"", b"no archive", whole[: len(whole) // 2], whole[:-1]):
        path.write_bytes(content)
        assert kept_standard(tmp_path, KEY) is None
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr(
            "standard.json", '{"format": 1, "key": "' + KEY + '", "standard": {"kind": "print"}}'
        )
    assert kept_standard(tmp_path, KEY) is None
    for at in np.random.default_rng(5).integers(0, len(whole), 60):
        damaged = bytearray(whole)
        damaged[at] ^= 0x55
        path.write_bytes(bytes(damaged))
        found = kept_standard(tmp_path, KEY)
        if found is not None:
            assert_same(found, without_scan(bench.standard))


def test_where_nothing_can_be_written_nothing_is_kept(bench, tmp_path):
    (tmp_path / "prepared").write_text("a file in the way")
    keep_standard(tmp_path / "prepared", KEY, bench.standard)
    assert kept_standard(tmp_path / "prepared", KEY) is None
    assert [path.name for path in tmp_path.iterdir()] == ["prepared"]


def test_on_a_disk_that_is_full_nothing_is_kept_and_nothing_half(bench, tmp_path, monkeypatch):
    written = []

    def write(file, array, **how):
        written.append(array)
        if len(written) > 10:
            raise OSError(errno.ENOSPC, "No space left on device")
        whole(file, array, **how)

    whole = np.lib.format.write_array
    monkeypatch.setattr(np.lib.format, "write_array", write)
    keep_standard(tmp_path, KEY, bench.standard)
    assert len(written) == 11
    assert list(tmp_path.iterdir()) == []


def test_the_oldest_go_and_no_drafts_stay(bench, tmp_path):
    for k in range(MOST_FILES + 2):
        keep_standard(tmp_path, f"{k:064x}"[::-1], replace(bench.standard, records=()))
    assert len(list(tmp_path.iterdir())) == MOST_FILES
    assert kept_standard(tmp_path, f"{MOST_FILES + 1:064x}"[::-1]) is not None
