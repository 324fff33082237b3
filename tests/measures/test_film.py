"""Film on ground: its mean stands for the whole region, its plane and streaks are those laid in."""

from types import SimpleNamespace

import numpy as np
import pytest

from proofkit.arrays import packed
from proofkit.laying.rectify import Box
from proofkit.measures.film_cells import (
    CELL_MM,
    ENOUGH_MM2,
    Gaps,
    film_cells,
    ground_blocks,
    mean_film,
    plane_of,
)
from proofkit.measures.ground import local_mean
from proofkit.measures.plate_tone import film_measures, halo, streak_blocks
from proofkit.measures.region_cells import counted
from proofkit.measures.specks import find_specks
from proofkit.quality import Quality
from proofkit.scatter import robust_sd
from tests.measures.coding import UNIT, coded

PITCH = 0.05
BOX = Box(0.0, 0.0, 400, 320, PITCH)
SHAPE = (BOX.rows, BOX.columns)
X, Y = np.meshgrid(np.arange(BOX.columns) * PITCH, np.arange(BOX.rows) * PITCH)


def everywhere():
    return np.ones(SHAPE, dtype=bool)


def nowhere():
    return np.zeros(SHAPE, dtype=bool)


def picture(density, noise=0.0, seed=1):
    grain = np.random.default_rng(seed).normal(0, noise, SHAPE) if noise else 0
    return (10.0 ** -(density + np.zeros(SHAPE)) * (1 + grain)).astype(np.float32)


def record(far, near=None, work="open"):
    """Of a region's record, what film is read with."""
    return SimpleNamespace(
        region=SimpleNamespace(work=work),
        box=BOX,
        inside_bits=packed(np.ones_like(far)),
        far_bits=packed(far),
        near_bits=packed(np.zeros_like(far) if near is None else near),
        area_mm2=BOX.rows * BOX.columns * PITCH**2,
    )


def cells_of(light, told):
    return counted(coded(light), told)


def film_of(light, told, gaps=None):
    cells = cells_of(light, told)
    return film_measures(cells, streak_blocks(cells, PITCH), told, gaps)


def test_even_film():
    row, quality = film_of(picture(0.06, 0.02), record(everywhere()))
    assert row["plate_tone_density"] == pytest.approx(0.06, abs=0.0005)
    assert row["plate_tone_unevenness_density"] < 0.001
    assert row["streak_density"] < 0.001
    assert quality == Quality.NONE


def test_slope_and_its_direction():
    """0.05 D in 100 mm rising to the right and up: 45 degrees counter-clockwise from x, as the print is seen."""
    film = 0.05 + 0.05 / 100 / np.sqrt(2) * (X - Y)
    row, _ = film_of(picture(film, 0.01), record(everywhere()))
    assert row["plate_tone_slope_density_per_100mm"] == pytest.approx(0.05, rel=0.1)
    assert row["plate_tone_slope_deg"] == pytest.approx(45, abs=6)


def test_unread_cells_follow_the_plane():
    """Ground on the left half only: the film of the whole region is still that of its middle."""
    film = 0.04 + 0.004 * X
    left = X < 10
    cells = film_cells(cells_of(picture(film), record(left)), None, BOX)
    plane, rest = plane_of(cells)
    assert np.abs(rest).max() < 1e-3
    assert plane[1] == pytest.approx(0.004, rel=0.02)
    seen = cells.reflectance[np.isfinite(cells.reflectance)]
    # Films beyond what was seen are not invented: the rest keeps the darkest film read.
    assert mean_film(cells) == pytest.approx(-np.log10((seen.mean() + seen.min()) / 2), abs=0.003)


def test_a_stray_cell_does_not_tilt_the_plane():
    """A cell of 0.5 D in the corner of an even film with grain: a line that was taken for ground."""
    light = picture(0.06, 0.02)
    even = plane_of(film_cells(cells_of(light, record(everywhere())), None, BOX))
    light[X + 1000 * (Y > 2) < 2] = 10**-0.5
    plane, rest = plane_of(film_cells(cells_of(light, record(everywhere())), None, BOX))
    assert rest.max() == pytest.approx(0.44, abs=0.01)
    np.testing.assert_allclose(plane, even[0], atol=2e-4)
    assert robust_sd(rest) == pytest.approx(robust_sd(even[1]), rel=0.15)


def test_gaps_fill_what_ground_leaves_open_and_agree_with_it():
    """Gaps that read 3 % too light all over are scaled to the ground where both are known."""
    rng = np.random.default_rng(3)
    points = rng.uniform((0, 0), (BOX.columns * PITCH, BOX.rows * PITCH), (6000, 2))
    gaps = Gaps(points, np.full(6000, 1.03 * 10**-0.05))
    cells = film_cells(cells_of(picture(0.05), record(X < 8)), gaps, BOX)
    assert np.isfinite(cells.reflectance).all()
    assert mean_film(cells) == pytest.approx(0.05, abs=1e-3)


def test_ground_from_gaps_alone_is_flagged():
    rng = np.random.default_rng(4)
    points = rng.uniform((0, 0), (BOX.columns * PITCH, BOX.rows * PITCH), (4000, 2))
    gaps = Gaps(points, np.full(4000, 10**-0.07))
    row, quality = film_of(picture(0.3), record(nowhere(), work="lines"), gaps)
    assert quality == Quality.GROUND_FROM_GAPS
    assert row["plate_tone_density"] == pytest.approx(0.07, abs=1e-6)
    assert row["u_plate_tone_density"] >= 0.001


def test_no_ground_leaves_film_empty():
    assert film_of(picture(0.1), record(nowhere())) == ({}, Quality.TOO_LITTLE_GROUND)


def test_a_corner_does_not_stand_for_the_whole():
    """Four cells of eighty in a corner: what the film is elsewhere is not told; along one edge it is."""
    assert film_of(picture(0.1), record((X < 4) & (Y < 4))) == ({}, Quality.TOO_LITTLE_GROUND)
    row, _ = film_of(picture(0.1), record(X < 4))
    assert row["plate_tone_density"] == pytest.approx(0.1, abs=1e-3)


@pytest.mark.parametrize("angle", [0, 30, 90, 120])
def test_streaks_and_their_direction(angle):
    """A wave of 0.01 D (rms 0.00707 D) every 1.6 mm, running at `angle` counter-clockwise as seen."""
    across = X * np.sin(np.radians(angle)) + Y * np.cos(np.radians(angle))
    film = 0.05 + 0.01 * np.sin(2 * np.pi * across / 1.6)
    row, _ = film_of(picture(film, 0.01), record(everywhere()))
    assert row["streak_density"] == pytest.approx(0.00707, rel=0.25)
    assert (row["streak_deg"] - angle + 90) % 180 - 90 == pytest.approx(0, abs=6)


def test_dark_and_light_specks_apart():
    values = picture(0.05, 0.01)
    for x, y in [(4, 4), (9, 12), (15, 3)]:
        values[np.hypot(X - x, Y - y) < 0.15] *= 0.5
    values[np.hypot(X - 12, Y - 8) < 0.15] *= 1.4
    values[np.hypot(X - 6, Y - 10) < 0.03] *= 0.5  # smaller than a speck
    told = record(everywhere())
    cells = cells_of(values, told)
    row, listed = find_specks(cells, streak_blocks(cells, PITCH), told)
    per_cm2 = 100 / (BOX.rows * BOX.columns * PITCH**2)
    assert row["dark_specks_per_cm2"] == pytest.approx(3 * per_cm2, rel=1e-6)
    assert row["light_specks_per_cm2"] == pytest.approx(per_cm2, rel=1e-6)
    assert [speck.kind for speck in listed] == ["dark", "dark", "dark", "light"]
    found = sorted((round(speck.x_mm, 1), round(speck.y_mm, 1)) for speck in listed if speck.kind == "dark")
    assert found == [(4.0, 4.0), (9.0, 12.0), (15.0, 3.0)]
    light = listed[-1]
    assert (light.x_mm, light.y_mm) == pytest.approx((12, 8), abs=0.03)
    # A disc of 0.3 mm, seen through the mean of 3 x 3 cells of 0.05 mm.
    assert light.size_mm == pytest.approx(0.3, abs=0.06)
    assert light.density == pytest.approx(-np.log10(1.4), abs=0.06)


def test_halo_is_near_minus_far():
    near = (X > 5) & (X < 7)
    film = np.where(near, 0.08, 0.05)
    assert halo(cells_of(picture(film), record(~near, near)), PITCH) == pytest.approx(0.03, abs=1e-4)
    assert np.isnan(halo(cells_of(picture(film), record(nowhere(), near)), PITCH))


def test_means_of_cells_count_only_ground():
    values = picture(0.1)
    values[X < 1] = 0.2
    blocks = ground_blocks(cells_of(values, record(X >= 1)), round(CELL_MM / PITCH))
    assert np.nanmin(blocks.mean) == pytest.approx(10**-0.1, abs=0.5 * UNIT)
    assert blocks.number.sum() == (X >= 1).sum()


def test_local_mean_knows_only_the_known():
    values = np.where(X < 10, 0.5, 0.9).astype(np.float32)
    mean = local_mean(values, X < 10, 6.0)
    assert np.nanmax(np.abs(mean[X < 10] - 0.5)) < 1e-4
    assert np.isnan(mean[:, -1]).all()


def test_what_counts_as_enough_ground_does_not_change_from_scan_to_scan():
    """Six squares of ground, each just large enough: specks and lint left out of the mean must not lose one of them."""
    box = Box(0.025, 0.025, 120, 80, 0.05)
    far = np.zeros((80, 120), dtype=np.bool_)
    side = round(np.sqrt(ENOUGH_MM2 / 0.05**2) + 0.5)
    for row in (0, 40):
        for column in (0, 40, 80):
            far[row : row + side, column : column + side] = True
    known = []
    for seed in range(20):
        noisy = (0.9 + 0.01 * np.random.default_rng(seed).standard_normal(far.shape)).astype(np.float32)
        cells = film_cells(cells_of(noisy, record(far)), None, box)
        known.append(int(np.isfinite(cells.reflectance).sum()))
    assert known == [6] * 20
