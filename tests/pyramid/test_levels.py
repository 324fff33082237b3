"""Levels hold the means of the scan's pixels, whatever the file's layout and orientation."""

import resource
import tracemalloc

import numpy as np
import pytest

from proofkit.errors import ScanError
from proofkit.pyramid.file import BAND_ROWS, make_pyramid, read_part, read_pyramid
from proofkit.scan import open_scan, read_scan
from proofkit.scan.bands import read_bands
from proofkit.scan.kernels import SHIFT, luminance_of_rgb
from proofkit.scan.orientation import upright
from tests.scan.scan_files import linear_curve, pixels, plane_of, write_tiff

LAYOUTS = {
    "one strip": {},
    "strips": {"rowsperstrip": 7, "compression": "lzw"},
    "tiles": {"tile": (48, 32), "compression": "deflate"},
}


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS.keys())
@pytest.mark.parametrize("rows", [1, 16, 50, 1000])
def test_bands_are_the_scan_row_by_row(tmp_path, layout, rows):
    codes = pixels(8, 3)
    file = open_scan(write_tiff(tmp_path / "a.tif", codes, **layout))
    bands = list(read_bands(file, linear_curve(8, 3), rows))
    assert [len(band) for band in bands] == [min(rows, 201 - top) for top in range(0, 201, rows)]
    assert np.abs(np.vstack(bands) - plane_of(codes, 8)).max() < 0.502  # rounded once


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_luminance_ends_at_black_and_white(dtype):
    """Shares of a channel can be negative (a colour outside the scanner's), and sum up beyond white."""
    rng = np.random.default_rng(11)
    codes = rng.integers(0, np.iinfo(dtype).max, (31, 47, 3), dtype=dtype, endpoint=True)
    shares = rng.uniform(-0.4, 0.7, (3, np.iinfo(dtype).max + 1))
    tables = np.rint(shares * 65535 * (1 << SHIFT)).astype(np.int32)
    plane = np.empty((31, 47), np.uint16)
    luminance_of_rgb(codes, tables, plane)
    exact = 65535 * sum(shares[channel][codes[:, :, channel]] for channel in range(3))
    assert np.abs(plane - np.clip(exact, 0, 65535)).max() < 0.502
    assert {0, 65535} <= set(plane.ravel().tolist())


def test_a_disk_that_is_full_is_told_and_leaves_nothing(tmp_path):
    file = open_scan(write_tiff(tmp_path / "a.tif", pixels(16, 1, shape=(1500, 900))))
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1_000_000, before[1]))  # of 3.4 MB: within the second band
    try:
        with pytest.raises(ScanError, match=r"cannot be written to .*Make room on the disk"):
            make_pyramid(file, linear_curve(16, 1), tmp_path / "kept" / "a.pyramid", stamp="", setup="")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert list((tmp_path / "kept").iterdir()) == []


@pytest.mark.parametrize("orientation", range(1, 9))
def test_parts_lie_upright_where_the_scan_has_them(tmp_path, orientation):
    """Against the plane that `read_scan` gives, which tests/scan holds to the files' pixels."""
    codes = pixels(16, 1, shape=(1150, 733))
    path = write_tiff(tmp_path / "a.tif", codes, extratags=[(274, 3, 1, orientation, True)])
    file, curve = open_scan(path), linear_curve(16, 1)
    plane = read_scan(file, curve).plane
    pyramid = make_pyramid(file, curve, tmp_path / "a.pyramid", stamp="", setup="")
    whole = read_part(pyramid, (31, 47, 290, 305), 0)
    assert np.array_equal(whole.plane, plane[47:305, 31:290])
    assert (whole.left_px, whole.top_px, whole.step) == (31, 47, 1)
    half = read_part(pyramid, (31, 47, 290, 305), 1)
    for row, column in ((0, 0), (17, 60), (-1, -1)):
        rows, columns = half.plane.shape
        y, x = half.top_px + 2 * (row % rows), half.left_px + 2 * (column % columns)
        cell = plane[int(y - 0.5) : int(y + 1.5), int(x - 0.5) : int(x + 1.5)].astype(float)
        assert abs(half.plane[row, column] - cell.mean()) <= 0.5


def test_every_level_is_the_mean_of_what_it_covers(tmp_path):
    """Odd sizes: the last row and column stand for the pixels that there are, repeated."""
    codes = pixels(16, 1, shape=(2 * BAND_ROWS + 411, 2311))
    file = open_scan(write_tiff(tmp_path / "a.tif", codes))
    pyramid = make_pyramid(file, linear_curve(16, 1), tmp_path / "a.pyramid", stamp="", setup="")
    assert [(level.rows, level.columns) for level in pyramid.levels] == [
        (1435, 2311),
        (718, 1156),
        (359, 578),
    ]
    top = read_part(pyramid, (0, 0, 2311, 1435), 2).plane
    inner = codes[:1432, :2308].astype(float).reshape(358, 4, 577, 4).mean(axis=(1, 3))
    assert np.abs(top[:-1, :-1] - inner).max() <= 1.0  # rounded twice
    corner = np.pad(codes[1432:, 2308:].astype(float), ((0, 1), (0, 1)), mode="edge")
    assert abs(top[-1, -1] - corner.mean()) <= 1.0


def test_a_part_beside_the_scan_is_none(tmp_path):
    file = open_scan(write_tiff(tmp_path / "a.tif", pixels(8, 1)))
    pyramid = make_pyramid(file, linear_curve(8, 1), tmp_path / "a.pyramid", stamp="", setup="")
    assert read_part(pyramid, (-20, 0, 0, 50), 0) is None
    assert read_part(pyramid, (-20, -20, 3.2, 1.5), 0).plane.shape == (2, 4)


def test_what_is_no_whole_pyramid_is_none(tmp_path):
    file = open_scan(write_tiff(tmp_path / "a.tif", pixels(8, 1)))
    path = tmp_path / "a.pyramid"
    made = make_pyramid(file, linear_curve(8, 1), path, stamp="s", setup="t")
    assert read_pyramid(path) == made
    content = path.read_bytes()
    for broken in (b"", content[:-1], b"{}" + content[2:], content.replace(b'"format": 1', b'"format": 0')):
        path.write_bytes(broken)
        assert read_pyramid(path) is None
    assert read_pyramid(tmp_path / "none.pyramid") is None


def test_making_one_keeps_to_a_few_bands(tmp_path):
    codes = np.broadcast_to((np.arange(4000 * 3) % 251).reshape(1, 4000, 3), (6000, 4000, 3)).astype(np.uint8)
    file = open_scan(write_tiff(tmp_path / "a.tif", codes, rowsperstrip=32, compression="lzw"))
    curve = linear_curve(8, 3)
    make_pyramid(file, curve, tmp_path / "a.pyramid", stamp="", setup="")
    tracemalloc.start()
    make_pyramid(file, curve, tmp_path / "a.pyramid", stamp="", setup="")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert (
        peak < 6 * BAND_ROWS * 4000 * 2 + 20_000_000
    )  # the sheet's plane alone would be 48 MB and its codes 72 MB


def test_upright_views_agree_with_the_orientation_table():
    """TIFF 6.0, tag 274: in orientation 6 the first stored row is the right side."""
    assert upright(np.array([[1, 2], [3, 4]]), 6).tolist() == [[3, 1], [4, 2]]
