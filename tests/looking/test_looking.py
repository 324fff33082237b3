"""What is looked at lies where the plate has it and has the density that was painted."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from proofkit.folder.edition import Capture, Edition, Pull
from proofkit.looking import cut_across, density_difference, look, plain_sight, read_point
from proofkit.looking.screen import difference_codes, small_jpeg
from proofkit.reflectance.types import Paper
from tests.scan.scan_files import write_tiff

PPI = 508.0
"""20 px to a millimetre, so that places fall on pixels."""

COLOURS = ((0.0, "#1d4e79"), (0.5, "#f7f4ec"), (1.0, "#8a3b12"))


@pytest.fixture(scope="module")
def sight(tmp_path_factory):
    """A sheet of 70 x 50 mm, linear codes: paper 0.8, a square of 0.2 from (20, 10) to (30, 20) mm, and a
    ramp that falls by 0.01 per mm along x below y = 30 mm."""
    folder = tmp_path_factory.mktemp("edition")
    (folder / "scans").mkdir()
    codes = np.full((1000, 1400), 0.8)
    codes[200:400, 400:600] = 0.2
    codes[600:] = 0.75 - 0.01 * (np.arange(1400) + 0.5) / 20
    write_tiff(folder / "scans" / "a.tif", np.rint(codes * 65535).astype(np.uint16), ppi=PPI)
    pull = Pull("1", "a.tif")
    edition = Edition(folder, "Quarry", (pull,), (), None, capture=Capture(tone_curve="linear"))
    return plain_sight(edition, pull, folder)


def on_paper(sight, level=0.8):
    """The same sheet with its bare paper known."""
    square = np.zeros((3, 3))
    square[0, 0] = np.log(level)
    return replace(sight, paper=Paper(square, 0.0, 0.0, 1.0, level, (90.0, 0.0, 0.0), 0.01, 0.001, 0.5))


def test_a_scan_alone_has_its_own_millimetres(sight):
    assert (sight.width_mm, sight.height_mm) == pytest.approx((70.0, 50.0))
    assert sight.kind == "scan"


@pytest.mark.parametrize("px_per_mm", [2.0, 5.0, 20.0, 60.0])
def test_edges_lie_in_place_at_every_scale(sight, px_per_mm):
    """The square's edge at x = 20 mm is where the picture passes the middle of both levels."""
    picture = look(sight, (15.0, 12.0, 25.0, 18.0), px_per_mm)
    assert picture.shape == (round(6 * px_per_mm), round(10 * px_per_mm))
    profile = picture.mean(axis=0)
    after = int(np.argmax(profile < 0.5))
    share = (profile[after - 1] - 0.5) / (profile[after - 1] - profile[after])
    edge_mm = 15.0 + (after - 0.5 + share) / px_per_mm
    assert edge_mm == pytest.approx(20.0, abs=0.25 / px_per_mm)


def test_reduced_pictures_keep_the_mean(sight):
    picture = look(sight, (0.0, 30.0, 70.0, 50.0), 2.0)
    x = (np.arange(140) + 0.5) / 2
    inner = slice(2, -2)
    assert np.abs(picture[5:-5, inner] - (0.75 - 0.01 * x)[inner]).max() < 0.001


def test_outside_the_scan_there_is_nothing(sight):
    picture = look(sight, (-10.0, -10.0, 0.0, 0.0), 5.0)
    assert np.isnan(picture).all()
    half = look(sight, (-5.0, 5.0, 5.0, 10.0), 10.0)
    assert np.isnan(half[:, :50]).all()
    assert np.isfinite(half[:, 50:]).all()


def test_a_point_reads_the_density_above_bare_paper(sight):
    """-log10(0.2 / 0.8) = 0.60206; L* of 0.25 is 116 * 0.25**(1/3) - 16 = 57.08 (CIE 15)."""
    reading = read_point(on_paper(sight), 25.0, 15.0, 0.5)
    assert reading.density == pytest.approx(0.60206, abs=1e-4)
    assert reading.lightness == pytest.approx(57.08, abs=0.01)
    assert read_point(sight, 25.0, 15.0, 0.5).density == pytest.approx(-np.log10(0.2), abs=1e-4)
    assert np.isnan(read_point(sight, -3.0, 15.0, 0.5).density)


def test_a_cut_runs_from_end_to_end_in_millimetres(sight):
    cut = cut_across(on_paper(sight), (10.0, 15.0), (40.0, 15.0))
    assert cut.along_mm[[0, -1]] == pytest.approx([0.0, 30.0])
    inside = (cut.along_mm > 10.2) & (cut.along_mm < 19.8)
    assert cut.density[inside] == pytest.approx(0.60206, abs=1e-3)
    assert cut.density[(cut.along_mm < 9.8) | (cut.along_mm > 20.2)] == pytest.approx(0.0, abs=1e-3)


def test_a_slanting_cut_is_read_where_it_runs(sight):
    """On the ramp reflectance is 0.75 - 0.01 x, wherever y is."""
    cut = cut_across(sight, (5.0, 31.0), (65.0, 49.0))
    x = 5.0 + cut.along_mm * 60 / np.hypot(60, 18)
    assert 10.0**-cut.density == pytest.approx(0.75 - 0.01 * x, abs=2e-4)


def test_the_difference_is_signed(sight):
    sheet, standard = on_paper(sight, 0.8), on_paper(sight, 0.4)
    box = (22.0, 12.0, 28.0, 18.0)
    difference = density_difference(look(standard, box, 10.0), look(sheet, box, 10.0))
    assert difference == pytest.approx(
        np.full((60, 60), -np.log10(2.0)), abs=1e-4
    )  # lighter by a factor of two


def test_colours_of_a_difference_run_from_lighter_to_darker():
    codes = difference_codes(np.float32([[-9, 0, 9, np.nan]]), 0.3, COLOURS)
    assert codes[0, :, ::-1].tolist() == [
        [0x1D, 0x4E, 0x79],
        [0xF7, 0xF4, 0xEC],
        [0x8A, 0x3B, 0x12],
        [215] * 3,
    ]


def test_a_picture_is_made_small_enough():
    grain = np.random.default_rng(3).integers(180, 256, (600, 900), dtype=np.uint8)
    large, small = small_jpeg(grain, 10**9), small_jpeg(grain, 120_000)
    assert len(small) <= 120_000 < len(large)
    assert small[:2] == b"\xff\xd8"  # ISO/IEC 10918-1: start of image
    for most in (60_000, 5_000, 700):  # below the worst quality it is reduced in size
        tiny = small_jpeg(grain, most)
        assert len(tiny) <= most
        assert cv2.imdecode(np.frombuffer(tiny, np.uint8), cv2.IMREAD_GRAYSCALE).mean() == pytest.approx(
            217.5, abs=3
        )
