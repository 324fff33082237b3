"""Sheets drawn with and without a second set of lines of known shift and strength."""

import numpy as np
import pytest
from scipy import ndimage

from proofkit.laying.start import laying_of_corners
from proofkit.measures.ghost import find_ghost, ghost_patches
from proofkit.measures.types import LaidSheet
from proofkit.scan.types import Scan
from tests.lines.drawn import hatching, plane_of, scan_light
from tests.lines.papers import even_paper

SIDE = 17.0
SIZE = (SIDE, SIDE)


def light_of(layers, per_mm, shift=(0.0, 0.0), strength=0.92):
    strokes = np.vstack(layers)
    strokes[:, [0, 2]] += shift[0]
    strokes[:, [1, 3]] += shift[1]
    shape = (round(SIDE * per_mm) + 1,) * 2
    return scan_light(
        strokes, shape, 0.018, place=lambda mm: mm * per_mm, back=lambda px: px / per_mm, depth=strength
    )


def laid(light, per_mm, seed=1):
    corners = np.array([(0.0, 0.0), (SIDE, 0.0), (SIDE, SIDE), (0.0, SIDE)]) * per_mm
    scan = Scan(None, plane_of(light, seed=seed), np.zeros((1, 1, 3), np.float32), 1, "linear")
    return LaidSheet(scan, even_paper(), laying_of_corners(corners, *SIZE), 0.022, None)


def plate(one=20, other=75, spacing=0.25):
    return [
        hatching(one, spacing, 0.07, middle=(5.5, 5.5), length=8.0),
        hatching(other, spacing + 0.06, 0.07, middle=(11.5, 11.5), length=8.0, lines=24),
    ]


@pytest.mark.parametrize("ppi", [400, 600, 1200])
@pytest.mark.parametrize(("shift", "fraction"), [((0.15, 0.0), 0.3), ((-0.1, 0.24), 0.45), ((0.2, 0.2), 0.3)])
def test_shift_direction_and_strength_of_a_second_set(ppi, shift, fraction):
    per_mm = ppi / 25.4
    one = light_of(plate(), per_mm)
    double = one * light_of(plate(), per_mm, shift, 0.92 * fraction)
    ghost = find_ghost(laid(double, per_mm, seed=2), ghost_patches(laid(one, per_mm), SIZE))
    found = (
        ghost.shift_um * np.array([1, -1]) * [f(np.radians(ghost.direction_deg)) for f in (np.cos, np.sin)]
    )
    assert found == pytest.approx(1000 * np.array(shift), abs=30)
    # A third to a half of the second set falls on lines that are there already, where it adds next to nothing.
    assert 0.45 * fraction < ghost.fraction < 1.05 * fraction


def test_a_shift_by_the_spacing_of_one_hatching_is_told_by_the_other():
    per_mm = 600 / 25.4
    turn = np.radians(20)
    shift = 0.25 * np.array([np.sin(turn), np.cos(turn)])
    one = light_of(plate(), per_mm)
    double = one * light_of(plate(), per_mm, shift, 0.3)
    ghost = find_ghost(laid(double, per_mm, seed=2), ghost_patches(laid(one, per_mm), SIZE))
    assert ghost.shift_um == pytest.approx(250, abs=25)


@pytest.mark.parametrize(
    "changed",
    [
        lambda one: one,
        lambda one: one**0.8,
        lambda one: one * 0.8,
        lambda one: ndimage.gaussian_filter(one, 0.8),
        lambda one: ndimage.shift(one, (0.6, -0.5), mode="nearest"),
    ],
    ids=["again", "paler", "film", "softer", "moved"],
)
def test_what_a_sheet_may_be_without_being_doubled(changed):
    per_mm = 600 / 25.4
    one = light_of(plate(), per_mm)
    ghost = find_ghost(laid(changed(one), per_mm, seed=2), ghost_patches(laid(one, per_mm), SIZE))
    assert (ghost.shift_um, ghost.fraction) == (0.0, 0.0)


def test_a_plate_without_work_has_no_ghost():
    per_mm = 600 / 25.4
    bare = laid(np.ones((round(SIDE * per_mm) + 1,) * 2), per_mm)
    patches = ghost_patches(bare, SIZE)
    assert patches == ()
    assert find_ghost(bare, patches).shift_um == 0
