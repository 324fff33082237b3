"""Drypoint drawn with a skirt of known ink on one side or on both."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy import ndimage

from proofkit.folder.edition import Region, rectangle
from proofkit.laying.reference import ink_picture
from proofkit.laying.standard_lines import read_crossings, standard_lines
from proofkit.laying.start import laying_of_corners
from proofkit.lines.centrelines import find_lines
from proofkit.measures.burr import BURR_REACH_MM, burr_measures
from proofkit.measures.line_fit import fit_sheet
from proofkit.measures.types import LaidSheet
from proofkit.scan.types import Scan
from tests.lines.drawn import plane_of
from tests.lines.papers import even_paper

PER_MM = 600 / 25.4
SIDE = 10.0
WIDTH, DEPTH = 0.06, 0.9
REACH = 0.11
"""The skirt falls to 1/e over this. [mm]"""
FILM = 0.02


def measured(left, right):
    """Upright furrows 1.25 mm apart, with skirts of this absorbance beside their edges."""
    n = 4
    count = round(SIDE * PER_MM) + 1
    x = (np.arange(n * count) + 0.5) / n / PER_MM - 0.5 / PER_MM
    light = np.ones_like(x)
    for middle in np.arange(1.25, 9, 1.25):
        away = x - middle
        beyond = np.abs(away) - WIDTH / 2
        skirt = np.where(away < 0, left, right) * np.exp(-np.maximum(beyond, 0) / REACH)
        light *= 1 - np.where(beyond < 0, DEPTH, skirt)
    light = ndimage.gaussian_filter1d(light, 0.018 * PER_MM * n).reshape(count, n).mean(axis=1)
    plane = plane_of(np.tile(light * 10**-FILM, (count, 1)), noise=0.004)
    paper = even_paper()
    corners = np.array([(0.0, 0.0), (SIDE, 0.0), (SIDE, SIDE), (0.0, SIDE)]) * PER_MM
    laying = laying_of_corners(corners, SIDE, SIDE)
    found = find_lines(ink_picture(plane, laying, paper.luminance, (SIDE, SIDE), 0.03), 0.03, 0.02)
    lines = standard_lines(plane, paper, laying, found, 0.0215, np.full(found.size, 0.39))
    values = read_crossings(plane, paper, laying, lines.places, 0.0215, np.full(lines.lines.size, 0.04))
    laid = LaidSheet(
        Scan(None, plane, np.zeros((1, 1, 3), np.float32), 1, "linear"), paper, laying, 0.0215, values
    )
    fits = fit_sheet(
        laid, lines, lines.clear, np.ones(lines.lines.size, dtype=bool), np.full(lines.lines.size, -1)
    )
    region = Region("dry", "drypoint", rectangle(0.5, 1, 9.5, 9))
    inside = (lines.lines.points_mm[:, 1] > 1) & (lines.lines.points_mm[:, 1] < 9)
    record = SimpleNamespace(region=region, points=np.flatnonzero(inside))
    return burr_measures(laid, record, lines, fits, FILM)


def load_of(absorbance):
    """Ink of an exponential skirt from the furrow's edge to where it is followed. [µm]"""
    return 1000 * absorbance * REACH * (1 - np.exp(-(BURR_REACH_MM - WIDTH / 2) / REACH))


@pytest.mark.parametrize(("left", "right"), [(0.0, 0.4), (0.15, 0.35), (0.3, 0.3)])
def test_load_width_and_side_of_a_skirt(left, right):
    row = measured(left, right)
    assert row["burr_load_um"] == pytest.approx(load_of(left) + load_of(right), rel=0.06)
    assert row["burr_asymmetry"] == pytest.approx(abs(right - left) / (right + left), abs=0.06)
    # The mean distance of an exponential is its reach.
    assert row["burr_width_um"] == pytest.approx(2000 * REACH, rel=0.08)


def test_a_line_without_burr_has_next_to_none():
    row = measured(0.0, 0.0)
    assert row["burr_load_um"] < 3
