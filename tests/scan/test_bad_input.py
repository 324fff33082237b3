"""Every file that cannot be measured is refused in one line: what is wrong, what is allowed, what to do."""

import os
import struct

import imagecodecs
import numpy as np
import pytest
import tifffile

from proofkit.errors import ScanError
from proofkit.scan import open_scan, read_codes, read_scan
from tests.scan.scan_files import linear_curve, phys, pixels, png_bytes, png_chunk, write_tiff


def refusal(path, **settings) -> str:
    """The one line with which a file is refused."""
    with pytest.raises(ScanError) as caught:
        open_scan(path, **settings)
    line = str(caught.value)
    assert "\n" not in line
    assert path.name in line
    assert str(path.parent) not in line
    return line


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"", "empty (0 bytes)"),
        (b"dear printer, here are my scans\n", "not an image file that is known"),
        (b"GIF89a" + bytes(40), "a GIF picture"),
        (b"%PDF-1.7\n", "a PDF document"),
        (b"II*\0", "damaged"),
        (b"II*\0\x08\0\0\0\0\0", "0 x 0 px"),
        (b"\x89PNG\r\n\x1a\n", "breaks off"),
        (b"\xff\xd8\xff\xe0", "breaks off"),
    ],
)
def test_no_image(tmp_path, content, what):
    path = tmp_path / "x.tif"
    path.write_bytes(content)
    assert what in refusal(path)


def test_not_there_or_a_folder(tmp_path):
    assert "is not there" in refusal(tmp_path / "missing.tif")
    (tmp_path / "folder.tif").mkdir()
    assert "is a folder" in refusal(tmp_path / "folder.tif")


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read everything")
def test_may_not_be_read(tmp_path):
    path = write_tiff(tmp_path / "a.tif", pixels(8, 1))
    path.chmod(0)
    assert "may not be read" in refusal(path)


def test_may_not_be_read_by_anyone(tmp_path, monkeypatch):
    path = write_tiff(tmp_path / "a.tif", pixels(8, 1))

    def refuse(*_args, **_settings):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(path), "open", refuse)
    assert "may not be read" in refusal(path)


@pytest.mark.parametrize(
    ("bits", "samples", "settings", "words"),
    [
        (8, 4, {"photometric": "separated"}, ["CMYK", "grey or RGB"]),
        (8, 1, {"photometric": "palette", "colormap": np.zeros((3, 256), np.uint16)}, ["palette"]),
    ],
)
def test_tiff_colours_that_are_not_read(tmp_path, bits, samples, settings, words):
    line = refusal(write_tiff(tmp_path / "a.tif", pixels(bits, samples), **settings))
    assert all(word in line for word in words)


@pytest.mark.parametrize(
    ("dtype", "words"),
    [
        (np.float32, ["32-bit", "floating point", "8 or 16"]),
        (np.uint32, ["32 bits", "8 or 16"]),
        (np.int16, ["16-bit", "signed"]),
        (bool, ["1 bit", "8 or 16"]),
    ],
)
def test_tiff_numbers_that_are_not_read(tmp_path, dtype, words):
    line = refusal(write_tiff(tmp_path / "a.tif", np.zeros((20, 30), dtype)))
    assert all(word in line for word in words)


def test_png_bits_that_are_not_read(tmp_path):
    (tmp_path / "a.png").write_bytes(png_bytes(16, 1, 1, 0, b"\0\xaa\xaa", phys(600)))
    assert "1 bit per pixel" in refusal(tmp_path / "a.png")
    (tmp_path / "b.png").write_bytes(png_bytes(2, 1, 4, 0, b"\0\xaa", phys(600)))
    assert "4 bits per channel" in refusal(tmp_path / "b.png")


def test_jpeg_in_printing_inks(tmp_path):
    (tmp_path / "a.jpg").write_bytes(
        imagecodecs.jpeg8_encode(pixels(8, 4), colorspace="CMYK", outcolorspace="CMYK")
    )
    assert "CMYK" in refusal(tmp_path / "a.jpg")


def test_several_pictures(tmp_path):
    with tifffile.TiffWriter(tmp_path / "a.tif") as file:
        for seed in range(3):
            file.write(pixels(8, 1, seed=seed), photometric="minisblack", metadata=None)
    assert "3 different pictures" in refusal(tmp_path / "a.tif")
    moving = png_chunk(b"acTL", struct.pack(">II", 4, 0))
    (tmp_path / "b.png").write_bytes(png_bytes(2, 1, 8, 0, b"\0ab", phys(600) + moving))
    assert "4 different pictures" in refusal(tmp_path / "b.png")


def test_no_size(tmp_path):
    (tmp_path / "a.png").write_bytes(png_bytes(0, 5, 8, 0, b"", phys(600)))
    assert "0 x 5 px" in refusal(tmp_path / "a.png")


def test_too_large(tmp_path):
    (tmp_path / "a.png").write_bytes(png_bytes(60_000, 50_000, 8, 0, b"", phys(600)))
    assert "2000 megapixels" in refusal(tmp_path / "a.png")


@pytest.mark.parametrize("ppi", [1.0, 49.0, 20001.0, 1e6])
def test_resolution_that_is_not_believed(tmp_path, ppi):
    line = refusal(write_tiff(tmp_path / "a.tif", pixels(8, 1), ppi=ppi))
    assert f"{ppi:.6g} ppi" in line
    assert "50 to 20000 ppi is allowed" in line
    path = write_tiff(tmp_path / "b.tif", pixels(8, 1))
    assert "50 to 20000 ppi is allowed" in refusal(path, ppi=ppi)


def test_no_resolution(tmp_path):
    line = refusal(write_tiff(tmp_path / "a.tif", pixels(8, 1), ppi=None))
    assert "names no resolution" in line
    assert "edition.toml" in line
    assert "nan ppi" in refusal(tmp_path / "a.tif", ppi=float("nan"))


def test_no_unit_of_resolution(tmp_path):
    path = write_tiff(tmp_path / "a.tif", pixels(8, 1), resolutionunit="none")
    assert "names no resolution" in refusal(path)


def test_unknown_compression(tmp_path):
    path = write_tiff(tmp_path / "a.tif", pixels(8, 3), compression="webp")
    assert "compression 50001" in refusal(path)


@pytest.mark.parametrize("ending", ["tif", "png", "jpg"])
@pytest.mark.parametrize("part", [0.1, 0.5, 0.99])
def test_file_that_breaks_off(tmp_path, ending, part):
    codes = pixels(8, 3)
    path = tmp_path / f"a.{ending}"
    if ending == "tif":
        write_tiff(path, codes, compression="lzw", rowsperstrip=20)
    else:
        path.write_bytes(
            imagecodecs.png_encode(codes) if ending == "png" else imagecodecs.jpeg8_encode(codes)
        )
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * part)])
    assert "damaged" in refusal(path, ppi=600)


def test_wrong_ending_is_read_and_said(tmp_path):
    path = write_tiff(tmp_path / "a.jpg", pixels(8, 1))
    assert open_scan(path).remarks == ("'a.jpg' holds a TIFF picture in spite of its ending",)
    assert open_scan(write_tiff(tmp_path / "b.TIFF", pixels(8, 1))).remarks == ()


def test_file_that_vanishes_or_changes(tmp_path):
    path = write_tiff(tmp_path / "a.tif", pixels(8, 1))
    file = open_scan(path)
    write_tiff(path, pixels(8, 1, (100, 133)))
    with pytest.raises(ScanError, match="was changed"):
        read_scan(file, linear_curve(8, 1))
    path.unlink()
    for read in (lambda: read_scan(file, linear_curve(8, 1)), lambda: read_codes(file, (0, 0, 5, 5))):
        with pytest.raises(ScanError, match="can no longer be read"):
            read()


def test_box_beyond_the_scan(tmp_path):
    file = open_scan(write_tiff(tmp_path / "a.tif", pixels(8, 1)))
    for box in [(-1, 0, 5, 5), (0, 0, 134, 5), (5, 5, 5, 9), (0, 190, 5, 202)]:
        with pytest.raises(ScanError, match="133 x 201 px"):
            read_codes(file, box)


def test_tone_curve_of_another_file(tmp_path):
    file = open_scan(write_tiff(tmp_path / "a.tif", pixels(16, 3)))
    with pytest.raises(ScanError, match="3 channels of 16 bits"):
        read_scan(file, linear_curve(8, 3))


@pytest.mark.parametrize("ending", ["tif", "png", "jpg"])
def test_bytes_changed_by_accident_never_end_otherwise(tmp_path, ending):
    """A file with changed bytes is read or refused; nothing else rises."""
    codes = pixels(8, 3, (60, 40))
    path = tmp_path / f"a.{ending}"
    if ending == "tif":
        write_tiff(path, codes, compression="deflate", predictor=True, rowsperstrip=8)
    else:
        path.write_bytes(
            imagecodecs.png_encode(codes) if ending == "png" else imagecodecs.jpeg8_encode(codes)
        )
    data = path.read_bytes()
    rng = np.random.default_rng(5)
    lines = []
    for trial in range(300):
        changed = bytearray(data)
        start = 0 if trial % 2 else max(0, len(data) - 400)  # heads of PNG and JPEG, folder of TIFF
        for place in rng.integers(start, min(start + 400, len(data)), 1 + trial % 4):
            changed[place] = rng.integers(0, 256)
        path.write_bytes(changed)
        try:
            file = open_scan(path, ppi=600)
            if file.width * file.height < 10**7:
                read_scan(file, linear_curve(file.bits, file.channels), workers=1 + trial % 2)
        except ScanError as error:
            lines.append(str(error))
    assert len(lines) > 20
    assert not any("\n" in line for line in lines)
