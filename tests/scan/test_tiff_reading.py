"""TIFF files written by tifffile are read back to the pixels that went in."""

import hashlib

import imagecodecs
import numpy as np
import pytest
import tifffile

from proofkit.quality import Quality
from proofkit.scan import open_scan, read_codes, read_scan
from tests.scan.scan_files import linear_curve, pixels, plane_of, write_tiff

LAYOUTS = {
    "one strip": {},
    "strips": {"rowsperstrip": 7},
    "tiles": {"tile": (32, 48)},
    "lzw": {"compression": "lzw", "rowsperstrip": 16},
    "lzw predictor": {"compression": "lzw", "predictor": True, "rowsperstrip": 9},
    "lzw tiles": {"compression": "lzw", "predictor": True, "tile": (32, 48)},
    "deflate tiles": {"compression": "deflate", "tile": (64, 64)},
    "zstd predictor": {"compression": "zstd", "predictor": True, "rowsperstrip": 5},
    "packbits": {"compression": "packbits", "rowsperstrip": 11},
    "lzma": {"compression": "lzma", "rowsperstrip": 50},
    "big": {"bigtiff": True, "rowsperstrip": 30},
}


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS.keys())
@pytest.mark.parametrize("byteorder", ["<", ">"])
@pytest.mark.parametrize("samples", [1, 3, 4])
@pytest.mark.parametrize("bits", [8, 16])
def test_pixels_come_back(tmp_path, bits, samples, byteorder, layout):
    codes = pixels(bits, samples)
    file = open_scan(write_tiff(tmp_path / "a.tif", codes, byteorder=byteorder, **layout))
    scan = read_scan(file, linear_curve(bits, min(samples, 3)))
    assert (file.width, file.height, file.bits, file.channels) == (133, 201, bits, min(samples, 3))
    assert np.abs(scan.plane - plane_of(codes, bits)).max() < 0.502  # rounded once
    box = read_codes(file, (5, 9, 100, 180))
    assert np.array_equal(box, codes.reshape(201, 133, -1)[9:180, 5:100, :3])


@pytest.mark.parametrize("compression", [None, "deflate", "lzw"])
@pytest.mark.parametrize("bits", [8, 16])
def test_separate_colour_planes(tmp_path, bits, compression):
    codes = pixels(bits, 3)
    path = write_tiff(
        tmp_path / "a.tif", codes, planarconfig="separate", compression=compression, rowsperstrip=20
    )
    file = open_scan(path)
    assert np.abs(read_scan(file, linear_curve(bits, 3)).plane - plane_of(codes, bits)).max() < 0.502
    assert np.array_equal(read_codes(file, (0, 0, 133, 201)), codes)


def test_white_stored_as_zero(tmp_path):
    codes = pixels(16, 1)
    file = open_scan(write_tiff(tmp_path / "a.tif", codes, photometric="miniswhite"))
    assert np.array_equal(read_scan(file, linear_curve(16, 1)).plane, 65535 - codes)
    assert np.array_equal(read_codes(file, (3, 2, 9, 8))[..., 0], 65535 - codes[2:8, 3:9])


def test_grey_with_alpha(tmp_path):
    codes = pixels(8, 2)
    file = open_scan(write_tiff(tmp_path / "a.tif", codes, photometric="minisblack", planarconfig="contig"))
    assert file.channels == 1
    assert np.array_equal(read_codes(file, (0, 0, 133, 201)), codes[:, :, :1])


def test_jpeg_inside_tiff_is_near_and_flagged(tmp_path):
    y, x = np.mgrid[0:128, 0:192]
    codes = np.stack((x, y, (x + y) // 2), axis=-1).astype(np.uint8)
    path = write_tiff(
        tmp_path / "a.tif", codes, compression="jpeg", compressionargs={"level": 95}, tile=(64, 64)
    )
    file = open_scan(path)
    assert file.compression == "jpeg"
    assert Quality.LOSSY in file.quality
    assert np.abs(read_scan(file, linear_curve(8, 3)).plane - plane_of(codes, 8)).max() < 4 * 257


def test_result_does_not_depend_on_threads(tmp_path):
    codes = pixels(16, 3, (1700, 900))
    file = open_scan(write_tiff(tmp_path / "a.tif", codes, compression="zstd", rowsperstrip=13))
    one, three = (read_scan(file, linear_curve(16, 3), workers=n) for n in (1, 3))
    assert np.array_equal(one.plane, three.plane)
    assert np.array_equal(one.overview, three.overview)


@pytest.mark.parametrize("samples", [1, 3])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_overview_is_the_mean_of_upright_blocks(tmp_path, orientation, samples):
    codes = pixels(8, samples, (1703, 1010))
    extra = [(274, "H", 1, orientation, True)]
    file = open_scan(write_tiff(tmp_path / "a.tif", codes, rowsperstrip=31, extratags=extra))
    scan = read_scan(file, linear_curve(8, samples))
    step = scan.overview_step
    height, width = scan.plane.shape
    assert scan.overview.shape == (-(-height // step), -(-width // step), 3)
    luminance = scan.overview @ np.array([0.2126, 0.7152, 0.0722])
    for row, column in [(0, 0), (3, 100), (scan.overview.shape[0] - 1, scan.overview.shape[1] - 1)]:
        block = scan.plane[row * step : (row + 1) * step, column * step : (column + 1) * step]
        assert luminance[row, column] == pytest.approx(block.mean() / 65535, abs=1e-5)


def test_overview_keeps_colours(tmp_path):
    codes = pixels(8, 3)
    scan = read_scan(open_scan(write_tiff(tmp_path / "a.tif", codes)), linear_curve(8, 3))
    assert scan.overview_step == 1
    assert scan.overview == pytest.approx(codes / 255, abs=2e-6)


@pytest.mark.parametrize(
    ("unit", "stored", "ppi"), [("inch", 1200, 1200.0), ("centimeter", 236.22, 600.0), ("inch", 300.5, 300.5)]
)
def test_resolution(tmp_path, unit, stored, ppi):
    path = write_tiff(tmp_path / "a.tif", pixels(8, 1), ppi=stored, resolutionunit=unit)
    assert open_scan(path).ppi_x == pytest.approx(ppi, rel=1e-5)


def test_resolution_turns_with_the_picture(tmp_path):
    extra = [(274, "H", 1, 6, True)]
    path = write_tiff(tmp_path / "a.tif", pixels(8, 1), ppi=None, resolution=(600, 1200), extratags=extra)
    file = open_scan(path)
    assert (file.ppi_x, file.ppi_y) == (1200, 600)
    assert (file.width, file.height) == (201, 133)


def test_resolution_given_by_hand(tmp_path):
    without = open_scan(write_tiff(tmp_path / "a.tif", pixels(8, 1), ppi=None), ppi=400)
    assert (without.ppi_x, without.ppi_y) == (400, 400)
    assert Quality.PPI_ASSUMED in without.quality
    other = open_scan(write_tiff(tmp_path / "b.tif", pixels(8, 1), ppi=72), ppi=600)
    assert other.ppi_x == 600
    assert other.quality == Quality.NONE


def test_low_resolution_is_flagged(tmp_path):
    assert Quality.LOW_RESOLUTION in open_scan(write_tiff(tmp_path / "a.tif", pixels(8, 1), ppi=299)).quality
    assert (
        Quality.LOW_RESOLUTION not in open_scan(write_tiff(tmp_path / "b.tif", pixels(8, 1), ppi=300)).quality
    )


def test_reduced_copies_are_passed_over(tmp_path):
    codes = pixels(8, 1, (512, 400))
    with tifffile.TiffWriter(tmp_path / "a.tif") as file:
        file.write(codes[::8, ::8], photometric="minisblack", metadata=None)  # a preview first
        file.write(
            codes, photometric="minisblack", metadata=None, resolution=(600, 600), resolutionunit="inch"
        )
        file.write(codes[::2, ::2], photometric="minisblack", metadata=None, subfiletype=1)
    scan = open_scan(tmp_path / "a.tif")
    assert (scan.width, scan.height) == (400, 512)
    assert np.array_equal(read_codes(scan, (0, 0, 400, 512))[..., 0], codes)


def test_hash_is_of_the_file(tmp_path):
    path = write_tiff(tmp_path / "a.tif", pixels(16, 3, (800, 700)))
    assert open_scan(path).sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


def test_profile_is_kept(tmp_path):
    profile = imagecodecs.cms_profile("srgb")
    assert open_scan(write_tiff(tmp_path / "a.tif", pixels(8, 3), iccprofile=profile)).icc_profile == profile


def test_scan_is_not_written_to(tmp_path):
    path = write_tiff(tmp_path / "a.tif", pixels(8, 3))
    before = (path.read_bytes(), path.stat().st_mtime_ns)
    read_scan(open_scan(path), linear_curve(8, 3))
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before
