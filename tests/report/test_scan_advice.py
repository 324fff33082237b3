"""What is said of scans follows from pixels, blur and codes; figures are closed forms."""

from dataclasses import replace

import pytest

from proofkit.columns import MEASUREMENTS, SHEETS, make_table
from proofkit.folder.edition import Capture
from proofkit.measures.advice import Resolving, advice


def scanned(measured, *, ppi=600.0, blur=21.8, bits=16.0, quality="", rows=(), backing="black card"):
    sheet = {"pull": "1", "ppi_x": ppi, "ppi_y": ppi, "blur_um": blur, "bits": bits, "quality": quality}
    return replace(
        measured,
        edition=replace(measured.edition, capture=Capture(backing=backing)),
        sheets=make_table([sheet], SHEETS),
        measurements=make_table([{"pull": "1", "region": "sky", **row} for row in rows], MEASUREMENTS),
    )


def test_least_width_and_closest_hatching():
    """600 ppi: 42.333 µm a pixel. Two pixels are 84.7 µm, three sigmas of 21.8 µm 65.4 µm; five sigmas 109 µm."""
    scan = Resolving(600, 21.8)
    assert scan.px_um == pytest.approx(42.333, abs=1e-3)
    assert scan.least_width_um == pytest.approx(84.67, abs=0.01)
    assert scan.most_per_mm == pytest.approx(1000 / 109, abs=0.01)
    # Variances add: 21.8² - 42.333² / 12 leaves 18.05 µm of optics.
    assert scan.optics_um == pytest.approx(18.05, abs=0.01)


def test_a_good_scan_needs_one_sentence(measured):
    (line,) = advice(scanned(measured))
    assert "600 ppi" in line
    assert "from 85 µm" in line


def test_fine_lines_get_a_resolution_or_are_told_that_none_helps(measured):
    # 70 µm need two pixels of 35 µm, which is 726 ppi; three sigmas of 18 µm optics alone are 54 µm.
    lines = advice(scanned(measured, rows=[{"line_load_um": 65.1, "quality": "too fine"}]))
    assert "800 ppi would show it" in lines[1]
    lines = advice(scanned(measured, rows=[{"line_load_um": 40.0, "quality": "too fine"}]))
    assert "nor would 2400 ppi show it with this scanner's optics (18 µm of blur)" in lines[1]
    lines = advice(scanned(measured, rows=[{"quality": "too fine"}]))
    assert "too fine for these scans altogether" in lines[1]
    assert len(lines) == 2


def test_close_hatching_codes_curve_and_backing(measured):
    told = scanned(measured, bits=8.0, quality="curve assumed", backing="", rows=[{"lines_per_mm": 10.0}])
    text = " ".join(advice(told))
    for word in ("'sky' is closer", "8 bits", "was assumed", "backing"):
        assert word in text


def test_nothing_measured_says_nothing(measured):
    empty = replace(measured, sheets=make_table([], SHEETS))
    assert advice(empty) == []
