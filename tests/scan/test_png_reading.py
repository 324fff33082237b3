"""PNG files are read as the reference library (libpng, in imagecodecs) reads them."""

import struct
import zlib

import imagecodecs
import numpy as np
import pytest
from PIL import Image

from proofkit.quality import Quality
from proofkit.scan import open_scan, read_codes, read_scan
from tests.scan.scan_files import linear_curve, phys, pixels, plane_of, png_bytes, png_chunk


@pytest.mark.parametrize("samples", [1, 2, 3, 4])
@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("level", [0, 6])
def test_pixels_come_back(tmp_path, bits, samples, level):
    smooth = np.cumsum(pixels(bits, samples).reshape(201, 133, samples) // 64, axis=1).astype(f"u{bits // 8}")
    codes = smooth[:, :, 0] if samples == 1 else smooth
    (tmp_path / "a.png").write_bytes(imagecodecs.png_encode(codes, level=level))
    file = open_scan(tmp_path / "a.png", ppi=600)
    assert (file.bits, file.channels) == (bits, 1 if samples < 3 else 3)
    assert np.array_equal(read_codes(file, (7, 3, 90, 150)), smooth[3:150, 7:90, : file.channels])
    grey = smooth[:, :, 0] if samples < 3 else smooth
    assert (
        np.abs(read_scan(file, linear_curve(bits, file.channels)).plane - plane_of(grey, bits)).max() < 0.502
    )


@pytest.mark.parametrize("kind", [0, 1, 2, 3, 4])
@pytest.mark.parametrize(
    ("colour_type", "bits", "pixel_bytes"), [(0, 8, 1), (2, 8, 3), (2, 16, 6), (6, 16, 8)]
)
def test_every_row_filter(tmp_path, kind, colour_type, bits, pixel_bytes):
    rng = np.random.default_rng(kind)
    rows = np.concatenate(
        (np.full((40, 1), kind, np.uint8), rng.integers(0, 256, (40, 25 * pixel_bytes)).astype(np.uint8)),
        axis=1,
    )
    (tmp_path / "a.png").write_bytes(png_bytes(25, 40, bits, colour_type, rows.tobytes(), phys(600)))
    expected = imagecodecs.png_decode((tmp_path / "a.png").read_bytes()).reshape(40, 25, -1)[:, :, :3]
    assert np.array_equal(read_codes(open_scan(tmp_path / "a.png"), (0, 0, 25, 40)), expected)


def test_picture_in_many_chunks(tmp_path):
    codes = pixels(8, 3)
    packed = zlib.compress(
        np.concatenate((np.zeros((201, 1), np.uint8), codes.reshape(201, -1)), axis=1).tobytes()
    )
    parts = [png_chunk(b"IDAT", packed[k : k + 1000]) for k in range(0, len(packed), 1000)]
    head = png_chunk(b"IHDR", struct.pack(">IIBBBBB", 133, 201, 8, 2, 0, 0, 0))
    (tmp_path / "a.png").write_bytes(b"\x89PNG\r\n\x1a\n" + head + b"".join(parts) + png_chunk(b"IEND", b""))
    assert np.array_equal(read_codes(open_scan(tmp_path / "a.png", ppi=600), (0, 0, 133, 201)), codes)


def test_bands_join_without_seams(tmp_path):
    codes = pixels(8, 3, (1500, 1600)) // 8  # more than three bands
    (tmp_path / "a.png").write_bytes(imagecodecs.png_encode(codes, level=1))
    file = open_scan(tmp_path / "a.png", ppi=600)
    assert np.array_equal(read_codes(file, (0, 0, 1600, 1500)), codes)


def test_palette(tmp_path):
    index = pixels(8, 1, (20, 30)) % 5
    colours = np.array([[255, 0, 0], [0, 255, 0], [0, 0, 255], [9, 8, 7], [200, 190, 180]], dtype=np.uint8)
    rows = np.concatenate((np.zeros((20, 1), np.uint8), index), axis=1).tobytes()
    sides = png_chunk(b"PLTE", colours.tobytes())
    (tmp_path / "a.png").write_bytes(png_bytes(30, 20, 8, 3, rows, phys(600) + sides))
    file = open_scan(tmp_path / "a.png")
    assert Quality.LOSSY in file.quality
    assert np.array_equal(read_codes(file, (0, 0, 30, 20)), colours[index])


def test_interlaced(tmp_path):
    codes = pixels(8, 3, (64, 48))
    interlaced = _adam7(codes)
    (tmp_path / "a.png").write_bytes(png_bytes(48, 64, 8, 2, interlaced, phys(600), interlaced=1))
    with Image.open(tmp_path / "a.png") as picture:
        assert np.array_equal(np.asarray(picture), codes)  # the file is what it is meant to be
    assert np.array_equal(read_codes(open_scan(tmp_path / "a.png"), (0, 0, 48, 64)), codes)


def _adam7(codes) -> bytes:
    """Rows of the seven passes of the PNG specification, section 8.2, without filters."""
    passes = [
        (0, 0, 8, 8),
        (0, 4, 8, 8),
        (4, 0, 8, 4),
        (0, 2, 4, 4),
        (2, 0, 4, 2),
        (0, 1, 2, 2),
        (1, 0, 2, 1),
    ]
    rows = [codes[y::dy, x::dx] for y, x, dy, dx in passes]
    return b"".join(b"\0" + row.tobytes() for part in rows for row in part)


def test_resolution_and_declared_curves(tmp_path):
    row = b"\0" + bytes(30)
    for name, sides, declared in [
        ("srgb", png_chunk(b"sRGB", b"\0"), "sRGB"),
        ("linear", png_chunk(b"gAMA", struct.pack(">I", 100000)), "linear"),
        ("gamma", png_chunk(b"gAMA", struct.pack(">I", 50000)), "gamma 2"),
        ("nothing", b"", ""),
    ]:
        path = tmp_path / f"{name}.png"
        path.write_bytes(png_bytes(10, 1, 8, 2, row, phys(1200) + sides))
        file = open_scan(path)
        assert file.ppi_x == pytest.approx(1200, abs=0.02)
        assert file.declared_curve == declared


def test_profile_is_unpacked(tmp_path):
    profile = imagecodecs.cms_profile("srgb")
    side = png_chunk(b"iCCP", b"name\0\0" + zlib.compress(profile))
    (tmp_path / "a.png").write_bytes(png_bytes(10, 1, 8, 2, b"\0" + bytes(30), phys(600) + side))
    assert open_scan(tmp_path / "a.png").icc_profile == profile
