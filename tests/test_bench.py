"""The benchmark draws what it says and reckons its figures rightly; its times are no matter of a test."""

import numpy as np
import pytest
import tifffile

from proofkit.folder.edition import Capture
from proofkit.reflectance import tone_curve
from proofkit.scan import open_scan, read_scan
from tests.bench import scans
from tests.bench.drawing import EDGE_MM, PLATE_MM, field_boxes
from tests.bench.parts import _growth
from tests.bench.running import one, ratio, table
from tests.bench.stages import stages
from tests.bench.viewing import alone, edition_of


def test_twelve_fields_lie_on_the_plate_apart_from_each_other():
    boxes = list(field_boxes().values())
    assert len(boxes) == 12
    for x0, y0, x1, y1 in boxes:
        assert 0 < x0 < x1 < PLATE_MM[0]
        assert 0 < y0 < y1 < PLATE_MM[1]
    assert min(b[0] for b in boxes) == EDGE_MM


def test_growth_is_the_exponent_of_the_power_law():
    found = _growth({"x": [(1e6, 2.0, 100.0), (4e6, 4.0, 400.0)]})
    assert "CPU ~ pixels^0.50" in found
    assert "peak ~ pixels^1.00" in found


def test_ratios_are_taken_pair_by_pair():
    assert (
        ratio(
            [{"wall": 2.0}, {"wall": 9.0}, {"wall": 5.0}],
            [{"wall": 1.0}, {"wall": 3.0}, {"wall": 1.0}],
            "wall",
        )
        == 3.0
    )
    assert table(("a", "b"), [(1234.5, 0.12345)]) == "| a | b |\n|---|---|\n| 1234 | 0.123 |"


def test_a_drawn_file_holds_the_sheet_and_is_read_in_a_process_of_its_own(tmp_path):
    path = scans.scan(tmp_path, 1, "lzw 8")
    codes = tifffile.imread(path)
    assert codes.shape == (1240, 877, 3)
    margin, drawn = codes[10:40, 10:40, 0], codes[300:900, 200:700, 0]
    assert drawn.mean() < margin.mean() - 10
    figures = one("decode", path, 2)
    assert figures["pixels"] == 1240 * 877
    assert figures["peak_mb"] > codes.nbytes / 1e6
    again = scans.picture(75.0, 1)
    np.testing.assert_array_equal(again, codes)


def test_stages_tell_the_time_of_what_was_called(tmp_path):
    file = open_scan(scans.scan(tmp_path, 1, "lzw 8"), ppi=75.0)
    curve = tone_curve(file, Capture(tone_curve="sRGB"))
    found = stages(lambda: [read_scan(file, curve) for _ in range(3)])
    reading = found["reading: hash, luminance, overview"]
    assert 0.5 * found["all"] < reading <= found["all"]
    assert found["plate mark"] == found["crease"] == 0.0
    assert sum(found.values()) == pytest.approx(2 * found["all"])


def test_looking_is_measured_on_the_scan_that_was_asked_for(tmp_path):
    for name, rows in (("b.tif", 300), ("a.tif", 200)):
        codes = np.full((rows, 250, 3), 200, np.uint8)
        tifffile.imwrite(tmp_path / name, codes, resolution=(600, 600), resolutionunit="INCH")
        home = edition_of(tmp_path / name, tmp_path)
        assert alone("decode", home)["pixels"] == rows * 250
    seen = alone("viewing", home)
    assert 0 < seen["most_bytes"] <= 96_000
    assert alone("pyramid", home)["seconds"] > 0
