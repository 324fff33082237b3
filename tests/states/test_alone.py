"""What one pull of a state may say alone."""

import math

import pytest

from proofkit.states.alone import FAINT_UM, is_grain


@pytest.mark.parametrize("factor", [0.5, 0.7, 1.4, 1.8])
@pytest.mark.parametrize("load_um", [25.0, 60.0, 140.0])
def test_a_line_that_was_cut_deeper_or_burnished_is_no_grain(load_um, factor):
    # The core of a broad line is black before and after: its darkness need not change.
    assert not is_grain((load_um, factor * load_um), (1.0, 1.0))


@pytest.mark.parametrize("factor", [0.4, 0.6])
def test_a_faint_line_that_was_burnished_loses_darkness_too(factor):
    # Narrower than the blur, a line's darkness is its load over the blur's width.
    load_um = FAINT_UM - 1
    assert not is_grain((load_um, factor * load_um), (1.0, factor))
    assert is_grain((load_um, factor * load_um), (1.0, math.sqrt(factor) + 0.05))


def test_grain_takes_and_gives_some_micrometres():
    # Grain alone makes 1 to 2 µm of a crossing; twice that in both pulls is 4.
    assert is_grain((10.0, 14.0), (1.0, 1.4))
    assert is_grain((14.0, 10.0), (1.4, 1.0))


def test_darkness_that_changes_the_other_way_is_grain():
    assert is_grain((12.0, 18.0), (1.0, 0.8))


def test_a_line_that_reads_nothing_on_one_pull_is_left_to_others():
    assert not is_grain((18.0, -1.0), (1.0, 0.0))
