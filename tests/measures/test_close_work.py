"""Close work is told by the scan's own waves: sine rulings, whose only wave is known, and what must not pass for one.

That two samples a wave are the least is the sampling theorem (Shannon 1949, Communication in the presence of noise).
"""

from types import SimpleNamespace

import numpy as np
import pytest

from proofkit.arrays import FULL_SCALE
from proofkit.laying.rectify import Box
from proofkit.laying.start import laying_of_corners
from proofkit.measures.close_work import TILE_PX, close_work
from tests.lines.papers import even_paper

SIDE_PX = 320
PAPER = even_paper()


def found(light, ppi=400):
    """Close work on a plate that fills the scan, and how the plate lies."""
    side_mm = (SIDE_PX - 1) * 25.4 / ppi
    corners = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]) * (SIDE_PX - 1)
    laying = laying_of_corners(corners, side_mm, side_mm)
    plane = np.rint((light * PAPER.luminance).clip(0, 1) * FULL_SCALE).astype(np.uint16)
    return close_work(SimpleNamespace(plane=plane), PAPER, laying, (side_mm, side_mm)), laying


def ruling(period_px, angle_deg, contrast=0.3, *, sharp=False):
    """Waves whose lines run at an angle, counter-clockwise as seen."""
    y, x = np.mgrid[:SIDE_PX, :SIDE_PX]
    turn = np.radians(angle_deg)
    wave = np.cos(2 * np.pi * (x * np.sin(turn) + y * np.cos(turn)) / period_px)
    return 1 - contrast * (1 + (np.sign(wave) if sharp else wave))


def noise(spread, seed=1):
    return np.random.default_rng(seed).normal(1.0, spread, (SIDE_PX, SIDE_PX))


@pytest.mark.parametrize("angle", [0, 12, 78, 101, 168])
def test_a_ruling_near_two_pixels_a_line_is_close(angle):
    assert found(ruling(2.2, angle) * noise(0.01))[0].tiles.all()


@pytest.mark.parametrize(("period", "angle"), [(2.2, 45), (2.8, 0), (2.8, 90), (5.0, 30), (12.0, 75)])
def test_a_ruling_is_not_close_where_pixels_follow_it(period, angle):
    assert not found(ruling(period, angle) * noise(0.01))[0].tiles.any()


@pytest.mark.parametrize("period", [5.0, 7.0, 7.5, 9.0, 20.0])
def test_sharp_edges_of_open_lines_are_not_close(period):
    assert not found(ruling(period, 2, sharp=True))[0].tiles.any()


@pytest.mark.parametrize("light", [noise(0.007), noise(0.02), np.ones((SIDE_PX, SIDE_PX))])
def test_paper_and_noise_are_not_close(light):
    assert not found(light)[0].tiles.any()


def test_close_work_is_found_where_it_is():
    half = SIDE_PX // 2
    light = ruling(2.2, 5)
    light[:, half:] = ruling(4.0, 5)[:, half:]
    close, laying = found(light)
    assert close.tiles[:, : half // TILE_PX].all()
    assert not close.tiles[:, half // TILE_PX :].any()
    assert close.at(np.array([(10.0, 10.0), (half + 10.0, 10.0), (-5.0, 10.0)])).tolist() == [
        True,
        False,
        False,
    ]
    pitch = 25.4 / 400
    cells = close.cells(laying, Box(0.0, 0.0, SIDE_PX, SIDE_PX, pitch))
    assert cells[:, : half - 1].all()
    assert not cells[:, half + TILE_PX :].any()


def test_hatching_that_the_finder_loses_is_close_at_any_resolution():
    assert found(ruling(4.0, 0), ppi=1600)[0].tiles.all()  # 64 µm a line
    assert not found(ruling(7.0, 0), ppi=1600)[0].tiles.any()  # 111 µm
