"""JPEG files, their resolutions, Exif blocks and orientations."""

import io

import imagecodecs
import numpy as np
import pytest
from PIL import Image, ImageOps

from proofkit.quality import Quality
from proofkit.scan import open_scan, read_codes, read_scan
from tests.scan.scan_files import linear_curve, pixels


def _with_exif(codes, orientation=1, exif_ppi=None, **settings) -> bytes:
    exif = Image.Exif()
    exif[274] = orientation
    if exif_ppi:
        exif[282] = exif[283] = float(exif_ppi)
        exif[296] = 2
    out = io.BytesIO()
    Image.fromarray(codes).save(out, "JPEG", quality=95, exif=exif, **settings)
    return out.getvalue()


@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("samples", [1, 3])
def test_codes_are_those_of_the_reference_decoder(tmp_path, samples, progressive):
    data = _with_exif(pixels(8, samples), dpi=(600, 600), progressive=progressive)
    (tmp_path / "a.jpg").write_bytes(data)
    file = open_scan(tmp_path / "a.jpg")
    assert (file.ppi_x, file.channels, file.compression) == (600, samples, "jpeg")
    assert Quality.LOSSY in file.quality
    expected = imagecodecs.jpeg_decode(data).reshape(201, 133, samples)
    assert np.array_equal(read_codes(file, (0, 0, 133, 201)), expected)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_orientation_as_pillow_turns_it(tmp_path, orientation):
    (tmp_path / "a.jpg").write_bytes(_with_exif(pixels(8, 1, (64, 40)), orientation, dpi=(600, 600)))
    file = open_scan(tmp_path / "a.jpg")
    with Image.open(tmp_path / "a.jpg") as picture:
        expected = np.asarray(ImageOps.exif_transpose(picture))
    assert (file.height, file.width) == expected.shape
    plane = read_scan(file, linear_curve(8, 1)).plane
    assert np.array_equal(plane, expected.astype(np.uint16) * 257)
    assert np.array_equal(read_codes(file, (3, 5, 30, 37))[..., 0], expected[5:37, 3:30])


def test_exif_resolution_where_the_head_holds_a_placeholder(tmp_path):
    (tmp_path / "a.jpg").write_bytes(_with_exif(pixels(8, 1), exif_ppi=800, dpi=(72, 72)))
    assert open_scan(tmp_path / "a.jpg").ppi_x == 800
    (tmp_path / "b.jpg").write_bytes(_with_exif(pixels(8, 1), exif_ppi=72, dpi=(800, 800)))
    assert open_scan(tmp_path / "b.jpg").ppi_x == 800


def test_exif_says_srgb(tmp_path):
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA001] = 1
    Image.fromarray(pixels(8, 3)).save(tmp_path / "a.jpg", exif=exif, dpi=(600, 600))
    assert open_scan(tmp_path / "a.jpg").declared_curve == "sRGB"


def test_profile_is_kept(tmp_path):
    profile = imagecodecs.cms_profile("srgb")
    Image.fromarray(pixels(8, 3)).save(tmp_path / "a.jpg", icc_profile=profile, dpi=(600, 600))
    assert open_scan(tmp_path / "a.jpg").icc_profile == profile
