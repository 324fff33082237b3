"""Squares cut from a part of a scan against the same squares of the whole scan."""

import os
import shutil

import numpy as np
import pytest
import tifffile

from proofkit.check import check
from proofkit.check import squares as squares_module
from proofkit.errors import ScanError
from proofkit.scan import open_scan
from proofkit.scan.part import opens_in_the_middle
from proofkit.sheet import plate_picture, read_for_looking

SQUARES = {
    "fine": ((10.0, 4.0, 14.0, 8.0), 40.0),
    "coarse": ((10.0, 4.0, 14.0, 8.0), 5.0),
    "at the corner of the plate": ((0.0, 0.0, 3.0, 3.0), 15.7),
    "partly beyond the scan": ((-30.0, 4.0, -2.0, 8.0), 15.7),
    "beyond the scan": ((900.0, 900.0, 903.0, 903.0), 15.7),
}


@pytest.fixture(scope="module")
def coded(checked_once, tmp_path_factory):
    """Result of a check in which the scan of pull 2 lies in LZW strips."""
    folder = shutil.copytree(checked_once, tmp_path_factory.mktemp("coded") / "trial")
    path = folder / "scans" / "pull_2.tif"
    codes = tifffile.imread(path)
    tifffile.imwrite(
        path, codes, photometric="minisblack", resolution=(400, 400), resolutionunit="INCH", compression="lzw",
        predictor=True, rowsperstrip=16,
    )  # fmt: skip
    assert opens_in_the_middle(open_scan(path))
    return check(folder)


@pytest.mark.parametrize(("box_mm", "px_per_mm"), SQUARES.values(), ids=SQUARES.keys())
def test_a_square_is_that_of_the_whole_scan(coded, monkeypatch, box_mm, px_per_mm):
    pull = next(pull for pull in coded.measured.edition.pulls if pull.pull == "2")
    whole = read_for_looking(coded.measured.edition, pull)
    monkeypatch.setattr(squares_module, "read_for_looking", None)  # what is small needs no whole scan
    expected = plate_picture(whole, coded.sheets["2"], box_mm, px_per_mm)
    np.testing.assert_allclose(coded.pictures("2", box_mm, px_per_mm), expected, atol=1e-6)


def test_a_scan_that_is_gone_is_said_in_one_line(checked):
    result = check(checked)
    (checked / "scans" / "pull_2.tif").unlink()
    with pytest.raises(ScanError, match="is not there"):
        result.pictures("2", *SQUARES["fine"])


@pytest.mark.parametrize("looked_before", [False, True])
@pytest.mark.parametrize("rows", [16, None], ids=["strips", "whole"])
def test_a_scan_that_was_replaced_since_it_was_measured_is_not_shown(checked, rows, looked_before):
    """Also one of the same size and times, and one of which a square was cut before."""
    path, other = checked / "scans" / "pull_2.tif", checked / "scans" / "pull_1.tif"
    for scan in (path, other):
        tifffile.imwrite(
            scan, tifffile.imread(scan), photometric="minisblack", resolution=(400, 400), resolutionunit="INCH",
            rowsperstrip=rows, compression="lzw" if rows else None,
        )  # fmt: skip
    result = check(checked)
    if looked_before and rows:
        result.pictures("2", *SQUARES["fine"])
    times = path.stat()
    path.write_bytes(other.read_bytes())
    os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns))
    with pytest.raises(ScanError, match="was changed"):
        result.pictures("2", *SQUARES["fine"])
