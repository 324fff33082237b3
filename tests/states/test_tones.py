"""Tones by formula: cells of film and bitten areas, and sheets of bars blurred by a Gaussian."""

from dataclasses import replace

import numpy as np
import pytest

from proofkit.laying.standard_lines import lines_of_known_width
from proofkit.states.lines import JoinedLines
from proofkit.states.tone_areas import changed_tones, without_tones
from proofkit.states.tones import CELL_MM, cell_box, read_tone
from proofkit.states.types import Change
from tests.lines.drawn import hatching
from tests.states.test_differences import SIZE_MM, courses, sheet

SHAPE = (60, 80)
ROWS, COLUMNS = np.indices(SHAPE)


def disc(row, column, radius_mm):
    return np.hypot(ROWS - row, COLUMNS - column) * CELL_MM < radius_mm


OLD = disc(40, 20, 4.0) | disc(15, 60, 4.0)


def pull(tones, *, ink=1.0, film=0.06, seed=1):
    """What a pull shows: a film that wanders over the plate, tones by its ink, and the grain of paper. [D]"""
    rng = np.random.default_rng(seed)
    tilt = rng.normal(0, 0.02, 5)
    x, y = COLUMNS / SHAPE[1] - 0.5, ROWS / SHAPE[0] - 0.5
    course = film + tilt[0] * x + tilt[1] * y + tilt[2] * x * x + tilt[3] * x * y + tilt[4] * y * y
    return course + ink * tones + rng.normal(0, 0.004, SHAPE)


def four(before, after):
    """Two pulls of each state, ink 15 % apart and film 0.05 D."""
    return [
        pull(before, ink=1.0, film=0.06, seed=1), pull(after, ink=1.15, film=0.03, seed=2),
        pull(before, ink=0.9, film=0.08, seed=3), pull(after, ink=0.95, film=0.05, seed=4),
    ]  # fmt: skip


SIDES = ["A", "B", "A", "B"]


@pytest.mark.parametrize("deep", [0.0, 0.15, 0.4])
def test_ink_and_film_are_no_change(deep):
    assert changed_tones(four(deep * OLD, deep * OLD), SIDES) == []


@pytest.mark.parametrize(
    ("before", "after", "kind"),
    [(0.0, 0.12, "added"), (0.12, 0.0, "removed"), (0.15, 0.3, "deepened"), (0.4, 0.2, "lightened")],
)
def test_what_was_done_to_one_area_is_told(before, after, kind):
    here, others = disc(30, 45, 3.0), 0.2 * OLD
    (found,) = changed_tones(four(others + before * here, others + after * here), SIDES)
    assert found.kind == kind
    # Cells of half a millimetre: a ring of half a cell about a disc of 3 mm is a sixth of it.
    assert found.area_mm2 == pytest.approx(np.pi * 3.0**2, rel=0.17)
    np.testing.assert_allclose(found.outline_mm.mean(axis=0), (45.5 * CELL_MM, 30.5 * CELL_MM), atol=0.3)
    # Ink of the four pulls is 0.95 to 1.025 times the base's in the mean of each state.
    assert found.tone_density == pytest.approx((before, after), abs=0.03)


def test_what_one_pull_alone_shows_is_none():
    pulls = four(0.2 * OLD, 0.2 * OLD)
    pulls[3] = pulls[3] + 0.15 * disc(30, 45, 3.0)
    assert changed_tones(pulls, SIDES) == []


def test_one_pull_of_a_state_leaves_a_doubt():
    here = 0.15 * disc(30, 45, 3.0)
    (found,) = changed_tones(four(0.2 * OLD, 0.2 * OLD + here)[:2], ["A", "B"])
    assert found.kind == "doubtful"
    assert "one pull" in found.doubt


def test_a_faint_change_takes_two_pulls_of_each_state():
    """0.065 D: between the least that two pulls of each tell and the least that one of each does."""
    here = 0.065 * disc(30, 45, 3.0)
    pulls = four(0.2 * OLD, 0.2 * OLD + here)
    assert [area.kind for area in changed_tones(pulls, SIDES)] == ["added"]
    assert changed_tones(pulls[:2], ["A", "B"]) == []


def test_ground_paler_than_clear_is_film_that_the_cloth_took():
    pale = 0.06 * disc(30, 45, 4.0)
    assert changed_tones(four(0.2 * OLD, 0.2 * OLD - pale), SIDES) == []


def test_a_stroke_that_was_overlooked_is_no_area():
    stripe = 0.3 * ((np.abs(ROWS - 30) < 1) & (np.abs(COLUMNS - 45) < 15))
    assert changed_tones(four(0.0 * OLD, stripe), SIDES) == []


def test_cells_hidden_by_lines_are_passed_over():
    here, lines = disc(30, 45, 3.0), (COLUMNS % 4 == 0)
    pulls = [np.where(lines, np.nan, one) for one in four(0.2 * OLD, 0.2 * OLD + 0.15 * here)]
    (found,) = changed_tones(pulls, SIDES)
    assert found.area_mm2 == pytest.approx(np.pi * 3.0**2, rel=0.25)
    assert changed_tones([np.full(SHAPE, np.nan)] * 4, SIDES) == []


def change(kind, y, length, x0=20.0):
    points = np.column_stack(
        (np.arange(x0, x0 + length, 0.15), np.full(len(np.arange(x0, x0 + length, 0.15)), y))
    )
    return Change(kind, points, length, 0.08, 20.0, 30.0)


def test_what_tone_does_to_lines_is_not_told_twice():
    here = disc(30, 45, 3.0)
    (tone,) = changed_tones(four(0.2 * OLD, 0.2 * OLD + 0.2 * here), SIDES)
    within, beyond = 15.25, 21.0
    changes = [
        change("lightened", within, 5.0), change("added", within, 2.0, 22.0), change("added", within, 5.0),
        change("lightened", beyond, 5.0), change("added", beyond, 2.0),
    ]  # fmt: skip
    assert without_tones(changes, [tone]) == changes[2:]


def joined(strokes):
    chains = courses(strokes)
    count = chains.size
    lines = lines_of_known_width(chains, np.full(count, 0.08), 0.022, np.full(count, 60.0))
    none = np.zeros(count, dtype=bool)
    return JoinedLines(lines, np.zeros(count, dtype=np.intp), np.full(count, -1), none, none)


def test_ground_between_lines_is_read_and_nothing_of_them():
    strokes = hatching(20, 0.8, 0.08, length=9.0, lines=8)
    laid = sheet(strokes)
    plane = laid.scan.plane.copy()
    width = plane.shape[1]
    right = np.arange(width) / width > 0.5
    # A tone of 0.2 D over the right half.
    plane[:, right] = np.rint(plane[:, right] * 10**-0.2).astype(plane.dtype)
    tone = read_tone(replace(laid, scan=replace(laid.scan, plane=plane)), joined(strokes), 0.022, SIZE_MM)
    box = cell_box(SIZE_MM)
    assert tone.shape == (box.rows, box.columns)
    assert np.isnan(tone[:4]).all()
    inner = tone[4:-4]
    left, right_half = inner[:, 4:11], inner[:, 13:-4]
    # Grain of 0.7 % of single pixels, and the tail of a blur of 0.018 mm beyond 0.055 mm.
    assert np.nanmedian(left) == pytest.approx(0.0, abs=0.005)
    assert np.nanmedian(right_half) == pytest.approx(0.2, abs=0.005)
    assert np.nanmax(np.abs(left)) < 0.02
    assert np.isfinite(inner).mean() > 0.6
