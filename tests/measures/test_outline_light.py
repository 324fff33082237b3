"""Mean light inside an outline: whole pixels and parts of them, against geometry and algebra."""

from dataclasses import replace

import numpy as np
import pytest
from shapely import affinity, box
from shapely.geometry import Polygon

from proofkit.measures.outline_light import mean_inside
from proofkit.reflectance import paper_level
from tests.lines.drawn import bar
from tests.lines.papers import even_paper
from tests.measures.test_fine_picture import laying_of, scan_of

PER_MM = 10.0
WHITE = 0.5
HOLED = Polygon(
    [(0.4, 0.3), (3.1, 0.9), (2.7, 3.3), (1.9, 1.6), (0.6, 2.8)], [[(1.0, 1.0), (1.3, 1.5), (1.6, 1.1)]]
)


def mean_of(light, outline_mm, x_px=0.0, y_px=0.0, turn_deg=0.0):
    plane = np.rint(WHITE * 65535 * np.asarray(light)).astype(np.uint16)
    return mean_inside(scan_of(plane), even_paper(WHITE), laying_of(PER_MM, x_px, y_px, turn_deg), outline_mm)


@pytest.mark.parametrize("turn_deg", [0.0, 33.0, 180.0])
@pytest.mark.parametrize("winding", [1, -1])
def test_pixels_count_by_the_area_that_lies_inside(turn_deg, winding):
    """Areas by Shapely, of an outline with a hole that reaches beyond the scan."""
    light = np.random.default_rng(3).uniform(0.1, 1.0, (22, 31))
    x_px, y_px = (44.2, 30.6) if turn_deg == 180 else (14.2, 8.6)
    laying = laying_of(PER_MM, x_px, y_px, turn_deg)
    a, b, d, e = laying.affine[:, :2].ravel()
    outline = Polygon(HOLED.exterior.coords[::winding], [HOLED.interiors[0].coords])
    px = affinity.affine_transform(outline, [a, b, d, e, *laying.affine[:, 2]])
    area = np.array(
        [
            [px.intersection(box(c - 0.5, r - 0.5, c + 0.5, r + 0.5)).area for c in range(31)]
            for r in range(22)
        ]
    )
    assert 0.2 * px.area < area.sum() < 0.95 * px.area
    light = np.rint(WHITE * 65535 * light) / (WHITE * 65535)
    assert mean_of(light, outline, x_px, y_px, turn_deg) == pytest.approx(
        (area * light).sum() / area.sum(), rel=1e-10
    )


def test_what_lies_wholly_beyond_the_scan_has_no_mean():
    assert np.isnan(mean_of(np.ones((20, 20)), box(3.0, 0.0, 4.0, 1.0)))
    assert np.isnan(mean_of(np.ones((20, 20)), box(0.0, -2.0, 1.0, -1.0)))


def test_mean_tone_is_that_of_light_not_of_density():
    """Nine columns of R 0.80 and one of 0.04: the mean is 0.724, D 0.140261 (identity)."""
    light = np.full((12, 12), 0.80)
    light[:, 10] = 0.04
    mean = mean_of(light, box(0.05, 0.05, 1.05, 1.05))
    assert -np.log10(mean) == pytest.approx(0.140261, abs=1e-5)


def test_mean_of_a_slope_is_its_value_at_the_centroid():
    """By algebra; sides parallel to the pixels' lie on their borders, as light is even within a pixel."""
    rows, columns = np.mgrid[:40, :50]
    light = 0.1 + 0.01 * columns + 0.003 * rows
    mean = mean_of(light, box(0.45, 0.55, 3.05, 2.95))
    assert mean == pytest.approx(0.1 + 0.01 * (0.45 + 3.05) / 2 * PER_MM + 0.003 * 17.5, abs=1e-5)


def test_light_is_held_against_the_paper_at_its_place():
    """Ink of one reflectance on paper whose level falls by 2 % over 60 mm, a sixth over the length of A3."""
    coefficients = np.array([[np.log(0.8), 0.003, 0.0], [-0.01, 0.0, 0.0], [0.0, 0.0, 0.0]])
    paper = replace(even_paper(0.8), coefficients=coefficients, x0_px=300.0, y0_px=200.0, scale_px=300.0)
    y, x = np.mgrid[:400, :600].astype(float)
    plane = np.rint(65535 * 0.37 * paper_level(paper, x, y)).astype(np.uint16)
    mean = mean_inside(scan_of(plane), paper, laying_of(PER_MM, 50.0, 40.0, 2.0), box(1.0, 1.0, 48.0, 31.0))
    assert mean == pytest.approx(0.37, rel=3e-5)


def test_the_mean_does_not_hang_on_where_the_sheet_lies():
    """Upright bars of 4 px, 17 px apart, blurred by 0.9 px: 4 / 17 of four whole periods is dark, by algebra."""
    x = np.arange(120)
    dark = sum(bar(x - 17 * k - 3, 4.0, 0.9) for k in range(-1, 9))
    light = 1 - 0.9 * np.tile(dark, (120, 1))
    rng = np.random.default_rng(3)
    means = [
        mean_of(
            light,
            box(0.0, 0.0, 6.8, 4.0),
            20 + rng.uniform(0, 9),
            20 + rng.uniform(),
            np.degrees(rng.uniform(-0.01, 0.01)),
        )
        for _ in range(12)
    ]
    assert np.array(means) == pytest.approx(1 - 0.9 * 4 / 17, abs=0.0012)
