"""A slit is told from edges of darker ground, which a coarse ground takes for bare."""

import numpy as np
import pytest
from scipy import ndimage

from proofkit.laying.reference import match_pictures
from proofkit.measures.crease import find_crease
from tests.lines.drawn import hatching
from tests.measures.test_ghost import SIDE, laid, light_of

PER_MM = 600 / 25.4
FILM = 10**-0.05


def plate():
    """Hatching 14 mm high on the left, open ground under film on the right."""
    return [
        hatching(0, 0.3, 0.08, middle=(5.0, 8.5), length=7.0, lines=46),
        hatching(65, 0.3, 0.06, middle=(5.0, 8.5), length=6.0, lines=16),
    ]


def places():
    side = round(SIDE * PER_MM) + 1
    y, x = np.mgrid[0:side, 0:side] / PER_MM
    return x, y


def clogged(light):
    """Ink fills the gaps of the hatching, up to its straight right edge."""
    x, y = places()
    filled = (x > 1.5) & (x < 8.4) & (y > 1.6) & (y < 15.4)
    return light * np.where(ndimage.gaussian_filter(filled.astype(float), 2) > 0.5, 0.7, 1.0)


def set_off(light):
    """Ink of another sheet, in a field with straight edges."""
    x, y = places()
    return light * np.where((x > 9.5) & (x < 15.1) & (y > 1.0) & (y < 16.0), 0.8, 1.0)


def slit(light):
    x, y = places()
    across = np.abs((x - 3.0) * np.sin(np.radians(20)) - (y - 4.0) * np.cos(np.radians(20)))
    return np.where((across < 0.11) & (x > 2.5) & (x < 14.5), 1.0, light)


@pytest.fixture(scope="module")
def standard():
    light = light_of(plate(), PER_MM) * FILM
    sheet = laid(light, PER_MM)
    pictures = match_pictures(sheet.scan.levels, sheet.laying, sheet.paper.luminance, SIDE, SIDE)
    return light, pictures


@pytest.mark.parametrize("fault", [clogged, set_off, lambda light: light * 0.9, lambda light: light])
def test_darker_ground_with_straight_edges_is_no_crease(standard, fault):
    light, pictures = standard
    assert find_crease(laid(fault(light), PER_MM, seed=2), pictures) is None


@pytest.mark.parametrize(
    "fault", [lambda light: light, clogged, set_off, lambda light: light / FILM * 10**-0.03]
)
def test_a_slit_is_told_on_any_ground(standard, fault):
    light, pictures = standard
    found = find_crease(laid(slit(fault(light)), PER_MM, seed=2), pictures)
    assert found is not None
    assert found.length_mm == pytest.approx(12.0 / np.cos(np.radians(20)), rel=0.25)
    turn = np.degrees(np.arctan2(*(np.array(found.end_mm) - found.begin_mm)[::-1])) % 180
    assert turn == pytest.approx(20, abs=2)


def faded(light):
    """The ends of the hatching's lines are gone, in a band of 0.3 mm along its right edge."""
    x, y = places()
    return np.where((x > 8.1) & (x < 8.6) & (y > 1.0) & (y < 16.0), light.max(), light)


@pytest.mark.parametrize(("film", "told"), [(0.01, False), (0.05, True)])
def test_beside_an_edge_where_one_side_shows_nothing_no_slit_is_told(film, told):
    """Under a film of 3 % and more the open side would show a slit, and the same row of lost ink may be one."""
    light = light_of(plate(), PER_MM) * 10**-film
    sheet = laid(light, PER_MM)
    pictures = match_pictures(sheet.scan.levels, sheet.laying, sheet.paper.luminance, SIDE, SIDE)
    assert (find_crease(laid(faded(light), PER_MM, seed=2), pictures) is not None) == told


def broken(share, light):
    """Cells of 0.1 mm without ink, a sixth of them everywhere and `share` along a strip of 0.3 mm."""
    x, y = places()
    chance = np.random.default_rng(6).uniform(size=(180, 180))[(y / 0.1).astype(int), (x / 0.1).astype(int)]
    row = (np.abs(x - 5.0) < 0.15) & (y > 2.0) & (y < 15.0)
    return np.where(chance < np.where(row, share, 0.16), light.max(), light)


@pytest.mark.parametrize(("share", "told"), [(0.65, False), (0.95, True)])
def test_a_row_a_little_fuller_than_what_is_broken_beside_it_is_no_crease(share, told):
    """Open lines on a plate wiped clean: only cells of line tell, and 19 standard deviations are not enough."""
    light = light_of([hatching(0, 0.5, 0.08, middle=(5.0, 8.5), length=7.0, lines=28)], PER_MM) * 10**-0.01
    sheet = laid(light, PER_MM)
    pictures = match_pictures(sheet.scan.levels, sheet.laying, sheet.paper.luminance, SIDE, SIDE)
    assert (find_crease(laid(broken(share, light), PER_MM, seed=2), pictures) is not None) == told
