"""The place shown is the place of a planted fault, whatever the level of the whole sheet."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from proofkit.edition import TONE_PITCH_MM
from proofkit.folder.edition import Region, rectangle
from proofkit.report.places import CROP_MM, worst_place

HEIGHT, WIDTH = 180, 240  # cells: a plate of 90 x 120 mm


def standard(seed=3):
    return np.random.default_rng(seed).uniform(0.5, 0.95, (HEIGHT, WIDTH)).astype(np.float32)


@settings(deadline=None, max_examples=30)
@given(
    x=st.integers(12, WIDTH - 13),
    y=st.integers(12, HEIGHT - 13),
    level=st.floats(0.9, 1.05),
    fault=st.sampled_from([-0.1, 0.1]),
)
def test_a_planted_fault_lies_in_the_square(x, y, level, fault):
    before = standard()
    now = before * np.float32(level)
    now[y - 6 : y + 6, x - 6 : x + 6] += np.float32(fault)
    place = worst_place(before, now, ())
    x0, y0, x1, y1 = place.box_mm
    assert x0 <= x * TONE_PITCH_MM <= x1
    assert y0 <= y * TONE_PITCH_MM <= y1
    assert x1 - x0 == pytest.approx(CROP_MM)


def test_only_the_regions_concerned_are_searched():
    before, now = standard(), standard()
    now[20:40, 20:40] -= 0.3
    now[100:110, 180:190] -= 0.05
    place = worst_place(before, now, [Region("wall", "lines", rectangle(70, 40, 115, 85))])
    x0, y0, _, _ = place.box_mm
    assert x0 > 70
    assert y0 > 40


def test_how_much_darker_is_a_density():
    before = np.full((HEIGHT, WIDTH), 0.8, dtype=np.float32)
    now = before.copy()
    now[100:140, 100:140] *= 10**-0.1
    place = worst_place(before, now, ())
    assert place.darker_density == pytest.approx(0.1, abs=1e-6)
    assert 0 < place.sheet_darker_density < 0.01


def test_missing_parts_are_no_fault():
    before, now = standard(), standard()
    now[:, :60] = np.nan
    now[90:100, 150:160] -= 0.2
    x0, _, x1, _ = worst_place(before, now, ()).box_mm
    assert x0 < 77.5 < x1


def test_sheets_with_nothing_in_common_have_no_place():
    empty = np.full((HEIGHT, WIDTH), np.nan, dtype=np.float32)
    assert worst_place(standard(), empty, ()) is None
    assert (
        worst_place(standard(), standard(), [Region("far", "lines", rectangle(500, 500, 520, 520))]) is None
    )


def test_a_plate_smaller_than_the_square_is_shown_whole():
    small = np.full((10, 16), 0.7, dtype=np.float32)
    x0, y0, x1, y1 = worst_place(small, small - 0.1, ()).box_mm
    assert (y0, y1) == (0, 5)
    assert 0 <= x0 < x1 <= 8


def test_pictures_of_unequal_size_share_their_common_part():
    assert worst_place(standard(), standard()[:-3, :-2] - 0.1, ()) is not None
