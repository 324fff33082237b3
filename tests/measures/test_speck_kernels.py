"""Cells that leave their ground, against every cell by itself."""

import cv2
import numpy as np
import pytest

from proofkit.arrays import packed, unpacked
from proofkit.laying.rectify import Box
from proofkit.measures.plate_tone import streak_blocks
from proofkit.measures.speck_kernels import every_cell, level_at, ratios_at, stray_cells
from proofkit.measures.specks import find_specks
from tests.measures.test_film import PITCH, cells_of, record

SIDE = 7


def scene(seed, shape=(45, 61)):
    """Codes with a few strays, ground in runs, and a level in blocks of which one has none."""
    rng = np.random.default_rng(seed)
    codes = rng.normal(30_000, 1500, shape)
    for r, c in rng.integers(0, shape, (12, 2)):
        codes[r : r + 3, c : c + 2] *= rng.choice([0.6, 1.5])
    ground = np.repeat(rng.random((shape[0], -(-shape[1] // 3))) < 0.7, 3, axis=1)[:, : shape[1]]
    blocks = (-(-shape[0] // SIDE), -(-shape[1] // SIDE))
    level = rng.uniform(28_000, 32_000, blocks).astype(np.float32)
    level[0, 2] = np.nan
    return codes.astype(np.uint16), ground, level


def ratios(codes, ground, level):
    """By the definition: levels spread as OpenCV enlarges a picture; at an edge the neighbour inward counts twice."""
    padded = cv2.resize(level, None, fx=SIDE, fy=SIDE, interpolation=cv2.INTER_LINEAR)
    own = padded[: codes.shape[0], : codes.shape[1]].astype(np.float64)
    lit, on = (np.pad(part, 1, mode="reflect") for part in (codes.astype(np.float64), ground))
    found = np.ones(codes.shape)
    for r, c in np.argwhere(ground & np.isfinite(own)):
        here = np.s_[r : r + 3, c : c + 3]
        found[r, c] = np.where(on[here], lit[here], own[r, c]).mean() / own[r, c]
    return found


def test_ratios_are_means_of_nine_over_their_level():
    codes, ground, level = scene(1)
    cells = every_cell(packed(ground), codes.shape[1], 1)
    assert (cells == np.flatnonzero(ground)).all()
    found = ratios_at(codes, packed(ground), level, SIDE, cells)
    assert found == pytest.approx(ratios(codes, ground, level)[ground], rel=1e-4)


def test_every_fifth_cell():
    ground = scene(2)[1]
    assert (every_cell(packed(ground), ground.shape[1], 5) == np.flatnonzero(ground)[::5]).all()


def test_level_is_that_of_a_block_at_its_middle():
    level = np.arange(12, dtype=np.float32).reshape(3, 4)
    assert [level_at(level, SIDE, r, c) for r, c in [(3, 3), (10, 17), (20, 27), (3, 0)]] == [0, 6, 11, 0]


@pytest.mark.parametrize("seed", [3, 4, 5])
@pytest.mark.parametrize("shape", [(45, 61), (20, 200), (2, 70)])
def test_strays_are_all_cells_whose_ratio_is_beyond_the_limits(seed, shape):
    codes, ground, level = scene(seed, shape)
    wanted = ratios(codes, ground, level)
    marks = stray_cells(codes, packed(ground), level, SIDE, (0.87, 1.15))
    below, above = (unpacked(bits, shape[1]) for bits in marks)
    sure = (np.abs(wanted - 0.87) > 1e-4) & (np.abs(wanted - 1.15) > 1e-4)
    assert (below == (ground & (wanted < 0.87)))[sure].all()
    assert (above == (ground & (wanted > 1.15)))[sure].all()
    assert below.any()


def test_specks_are_seen_below_a_part_without_ground():
    """A mean taken as a running sum down the columns would carry what is unknown there to all rows below."""
    box = Box(0.0, 0.0, 400, 320, PITCH)
    values = np.full((box.rows, box.columns), 0.9, dtype=np.float32)
    ground = np.ones(values.shape, dtype=np.bool_)
    ground[60:180] = False
    values[60:180] = np.nan
    values[250:256, 100:106] = 0.4
    told = record(ground)
    cells = cells_of(values, told)
    row, listed = find_specks(cells, streak_blocks(cells, PITCH), told)
    assert [(speck.kind, round(speck.x_mm, 1), round(speck.y_mm, 1)) for speck in listed] == [
        ("dark", 5.1, 12.6)
    ]
    assert row["light_specks_per_cm2"] == 0
