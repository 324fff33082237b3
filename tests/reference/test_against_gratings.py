"""Direction and spacing of ideal gratings, through the line finder and the measures of hatching.

The truth is how the grating is drawn. For scale: on gratings of 8 px period common gradient filters err by 0.5 to 1.5
degrees at 10 to 22.5 degrees (computed with central differences and the Sobel operator).
"""

import numpy as np
import pytest
from shapely import LineString, contains_xy

from proofkit.folder.edition import Region, rectangle
from proofkit.laying.reference import ink_picture
from proofkit.laying.standard_lines import read_crossings, standard_lines
from proofkit.laying.start import laying_of_corners
from proofkit.lines.centrelines import find_lines
from proofkit.measures.close_work import close_work
from proofkit.measures.line_fit import fit_sheet
from proofkit.measures.line_work import LineWork, RegionLines
from proofkit.measures.lines import line_measures
from proofkit.measures.records import region_record
from proofkit.measures.types import LaidSheet
from proofkit.scan.types import Scan
from tests.lines.drawn import clear_light, hatching, plane_of
from tests.lines.papers import even_paper

PER_MM = 600 / 25.4
SIDE = 9.0
REGION = Region("grating", "lines", rectangle(2.0, 2.0, 7.0, 7.0))


def drawn(rulings):
    """Strokes of 60 µm of the rulings (angle, spacing) on a plate of 9 x 9 mm."""
    return np.vstack(
        [
            hatching(angle, spacing, 0.06, middle=(4.5, 4.5), length=7.0, lines=round(7.0 / spacing))
            for angle, spacing in rulings
        ]
    )


def length_inside(strokes):
    """Length of the strokes in the region by its area, cut by geometry (shapely). [mm/mm²]"""
    inside = [LineString([stroke[:2], stroke[2:4]]).intersection(REGION.outline_mm) for stroke in strokes]
    return sum(part.length for part in inside) / REGION.outline_mm.area


def measured(rulings):
    """Measures of the rulings, scanned at 600 ppi."""
    strokes = drawn(rulings)
    shape = (round(SIDE * PER_MM) + 1, round(SIDE * PER_MM) + 1)
    light = clear_light(strokes, shape, 0.022, place=lambda mm: mm * PER_MM, back=lambda px: px / PER_MM)
    plane, paper = plane_of(light), even_paper()
    corners = np.array([(0.0, 0.0), (SIDE, 0.0), (SIDE, SIDE), (0.0, SIDE)]) * PER_MM
    laying = laying_of_corners(corners, SIDE, SIDE)
    found = find_lines(ink_picture(plane, laying, paper.luminance, (SIDE, SIDE), 0.03), 0.03, 0.02)
    lines = standard_lines(plane, paper, laying, found, 0.022, np.zeros(found.size))
    values = read_crossings(plane, paper, laying, lines.places, 0.022, np.full(lines.lines.size, 0.04))
    scan = Scan(None, plane, np.zeros((1, 1, 3), np.float32), 1, "linear")
    laid = LaidSheet(scan, paper, laying, 0.022, values)
    record = region_record(REGION, laid, lines, (SIDE, SIDE), close_work(scan, paper, laying, (SIDE, SIDE)))
    assert contains_xy(REGION.outline_mm, *lines.lines.points_mm[record.points].T).all()
    fits = fit_sheet(
        laid,
        lines,
        lines.clear,
        np.zeros(lines.lines.size, dtype=bool),
        np.zeros(lines.lines.size, dtype=int),
    )
    row, _ = line_measures(RegionLines(record, LineWork(lines, values, fits, 1 / PER_MM)))
    return row


def off(angle, true):
    return (angle - true + 90) % 180 - 90


@pytest.mark.parametrize("angle", [0, 10, 22.5, 40, 63, 90, 135, 172])
@pytest.mark.parametrize("spacing_px", [5, 7, 12, 25])
def test_direction_and_spacing(angle, spacing_px):
    spacing = spacing_px / PER_MM
    row = measured([(angle, spacing)])
    assert abs(off(row["line_angle_deg"], angle)) < 0.1
    assert row["lines_per_mm"] * spacing == pytest.approx(1, abs=0.003)
    assert "second_line_angle_deg" not in row
    # Lines are points 0.15 mm apart, so each end in the region is right to half of that: 3 % of 5 mm for two ends.
    assert row["line_length_mm_per_mm2"] == pytest.approx(length_inside(drawn([(angle, spacing)])), rel=0.03)


@pytest.mark.parametrize(("one", "other"), [(15, 105), (40, 95), (72, 150)])
def test_cross_hatching_gives_two_directions(one, other):
    row = measured([(one, 0.25), (other, 0.32)])
    assert abs(off(row["line_angle_deg"], one)) < 0.1
    assert abs(off(row["second_line_angle_deg"], other)) < 0.1
    assert row["lines_per_mm"] * 0.25 == pytest.approx(1, abs=0.003)
    assert row["second_lines_per_mm"] * 0.32 == pytest.approx(1, abs=0.003)
