"""Ruled patches at 600 ppi, whose load, width, film and blur follow from how they were drawn (see `planted`)."""

from dataclasses import replace

import numpy as np
import pytest

from proofkit.sheet import make_standard, measure_sheet
from tests.accuracy.planted import OPTICS_MM, PATCHES, Patch, Pulled, edition_of, write_pull
from tests.lines.drawn import DEPTH
from tests.sheet.proofs import by_region

FILM = 0.10
PIXEL_MM = 25.4 / 600


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    """A sheet of film 0.10 D on the standard of film 0.03 D; it lies otherwise on the glass."""
    folder = tmp_path_factory.mktemp("ruled")
    standard = write_pull(folder, "standard", Pulled())
    other = write_pull(folder, "other", Pulled(film=FILM, turn_deg=-0.4, shift_px=(0.3, 0.6), seed=2))
    edition = edition_of(folder, standard, other)
    return measure_sheet(edition, other, make_standard(edition, standard))


RULED = [patch for patch in PATCHES if patch.per_mm]
NARROWEST = 3 * 21.4
"""Three sigmas of the blur: lines under this have a load but no width. [µm]"""


@pytest.mark.parametrize("patch", RULED, ids=lambda patch: patch.name)
def test_load_is_width_times_depth(measured, patch):
    row = by_region(measured)[patch.name]
    # Gaps of 60 µm are under three sigmas of the blur: there the ground itself is hardly seen.
    allowed = 0.02 if patch.name == "hatch 10" else 0.01
    assert row["line_load_um"] == pytest.approx(patch.width_um * DEPTH, rel=allowed)


@pytest.mark.parametrize("patch", RULED, ids=lambda patch: patch.name)
def test_width_is_that_of_the_sharp_line_or_empty(measured, patch):
    row = by_region(measured)[patch.name]
    if patch.width_um > 1.2 * 2 * 1000 * PIXEL_MM:
        assert row["line_width_um"] == pytest.approx(patch.width_um, abs=2)
        # The picture is the same in all lines, so the core is that of 1 - depth, film and all.
        assert row["line_core_density"] == pytest.approx(FILM - np.log10(1 - DEPTH), abs=0.03)
    elif patch.width_um < NARROWEST:
        assert "line_width_um" not in row
        assert "too fine" in row["quality"]


@pytest.mark.parametrize("patch", [p for p in RULED if 4 <= p.per_mm <= 8], ids=lambda patch: patch.name)
def test_film_in_hatching(measured, patch):
    row = by_region(measured)[patch.name]
    assert row["plate_tone_density"] == pytest.approx(FILM, abs=0.003)
    assert row["ground_between_lines_density"] == pytest.approx(FILM, abs=0.003)


def test_blur_is_that_of_optics_and_pixel(measured):
    """Variances add; pixels are drawn as means of 3 x 3 places, whose variance is 2/27 px²."""
    assert measured.sheet["blur_um"] == pytest.approx(
        1000 * np.hypot(OPTICS_MM, PIXEL_MM * np.sqrt(2 / 27)), rel=0.01
    )


@pytest.mark.parametrize("patch", [p for p in RULED if p.crossed], ids=lambda patch: patch.name)
def test_cross_hatching_has_two_directions(measured, patch):
    row = by_region(measured)[patch.name]
    found = sorted((row["line_angle_deg"], row["second_line_angle_deg"]))
    assert found == pytest.approx(sorted((patch.angle_deg, (patch.angle_deg + 90) % 180)), abs=0.1)


def test_hatching_closer_than_pixels_can_show_has_neither_load_nor_film(tmp_path):
    """Under two pixels a line (Nyquist) what a scan shows is another ruling than the plate's."""
    standard = write_pull(tmp_path, "standard", Pulled(ppi=300))
    other = write_pull(tmp_path, "other", Pulled(ppi=300, film=FILM, turn_deg=-0.4, seed=2))
    edition = edition_of(tmp_path, standard, other)
    rows = by_region(measure_sheet(edition, other, make_standard(edition, standard)))
    closer = [patch for patch in RULED if patch.per_mm * 2 > 300 / 25.4]
    assert len(closer) == 4
    for patch in closer:
        row = rows[patch.name]
        assert "too fine" in row["quality"]
        assert not row.keys() & {
            "line_load_um",
            "line_width_um",
            "plate_tone_density",
            "ground_between_lines_density",
        }
    assert rows["hatch 4"]["plate_tone_density"] == pytest.approx(FILM, abs=0.004)


PER_MM_400 = 400 / 25.4
NEAR_PIXELS = tuple(
    Patch(f"{period} px at {angle}", PER_MM_400 / period, 430 * period / PER_MM_400, angle)
    for period, angle in ((2.31, 168), (2.4, 84), (2.1, 93), (2.42, 4))
)
SLANTING = Patch("2.4 px at 45", PER_MM_400 / 2.4, 380 * 2.4 / PER_MM_400, 45)
SHUT = Patch("crossed, gaps of 2 px", PER_MM_400 / 3.6, 1600 / PER_MM_400, 30, crossed=True)
CROSSED = Patch("crossed, gaps of 3 px", PER_MM_400 / 4.6, 1600 / PER_MM_400, 30, crossed=True)


@pytest.fixture(scope="module")
def close(tmp_path_factory):
    """A standard with hatching about as close as a scan of 400 ppi can show, and a sheet of film 0.06 D on it."""
    folder = tmp_path_factory.mktemp("close")
    alone = Patch("alone", 1.1, 200, 30)
    patches = (*NEAR_PIXELS, SLANTING, SHUT, CROSSED, *(replace(alone, name=f"alone {k}") for k in range(8)))
    standard = write_pull(folder, "standard", Pulled(ppi=400, seed=3), patches)
    other = write_pull(folder, "other", Pulled(ppi=400, film=0.06, turn_deg=0.7, seed=4), patches)
    edition = edition_of(folder, standard, other, patches=patches)
    made = make_standard(edition, standard)
    return made, by_region(measure_sheet(edition, other, made))


@pytest.mark.parametrize("patch", [*NEAR_PIXELS, SHUT], ids=lambda patch: patch.name)
def test_what_a_scan_cannot_tell_apart_is_not_told(close, patch):
    row = close[1][patch.name]
    assert "line_load_um" not in row
    assert "plate_tone_density" not in row
    assert "too fine" in row["quality"]


@pytest.mark.parametrize("patch", NEAR_PIXELS, ids=lambda patch: patch.name)
def test_false_lines_have_no_length_and_no_direction(close, patch):
    assert not {"line_length_mm_per_mm2", "line_angle_deg", "lines_per_mm"} & set(close[1][patch.name])


@pytest.mark.parametrize("patch", [SLANTING, CROSSED], ids=lambda patch: patch.name)
def test_a_little_wider_is_told(close, patch):
    row = close[1][patch.name]
    assert row["line_load_um"] == pytest.approx(patch.width_um * DEPTH, rel=0.02)
    assert row["plate_tone_density"] == pytest.approx(0.06, abs=0.004)


def test_no_sheet_is_laid_by_lines_that_may_be_none(close):
    standard = close[0]
    clear = {record.region.name: standard.lines.clear[record.points] for record in standard.records}
    for patch in NEAR_PIXELS:
        assert clear[patch.name].mean() < 0.2  # tiles at the rim of a patch see mostly paper
    assert clear[SLANTING.name].mean() > 0.9
