"""Measures of drawn proofs, whose truth is how they were drawn."""

import numpy as np
import pandas as pd
import pytest

from proofkit.measures import line_neighbours
from proofkit.measures.line_neighbours import neighbour_distances
from proofkit.threads import threads_limited
from tests.laying.plates import SIZE, lie
from tests.lines.drawn import DEPTH
from tests.sheet.proofs import Proof, by_region, drawn_plate


@pytest.fixture(scope="module")
def same(bench):
    """The standard's twin: another pull with other grain."""
    return bench.measure("twin", Proof(seed=9))


@pytest.fixture(scope="module")
def filmed(bench):
    """Film 0.09 D instead of 0.03 D, on stretched and warped paper."""
    how = lie(warp_mm=0.08, stretch=(1.003, 0.997), turn_deg=0.3)
    return bench.measure("filmed", Proof(film=0.09, how=how))


def test_a_twin_differs_in_nothing(bench, same):
    standard = by_region(bench.measure("standard", Proof(seed=1)))
    for name, row in by_region(same).items():
        for measure in ("line_load_um", "fine_line_load_um", "broad_line_load_um"):
            if measure in row:
                assert row[measure] == pytest.approx(standard[name][measure], rel=0.01)
        assert row["tone_distance_density"] < 0.002
        if name in {"hatch", "cross", "hand", "foot"}:
            assert row["line_continuity_fraction"] > 0.99
    assert same.sheet["doubling_um"] == 0
    assert same.sheet["crease_mm"] == 0
    assert same.sheet["misfit_um"] < 5


def test_a_sheet_says_the_same_by_any_number_of_threads(bench):
    told = []
    for most in (1, 2, 5):
        with threads_limited(most):
            proof = Proof(film=0.09, specks_mm=((19.0, 21.0),), how=lie(warp_mm=0.08, turn_deg=0.3))
            told.append(bench.measure("by threads", proof))
    for other in told[1:]:
        pd.testing.assert_frame_equal(pd.DataFrame(other.rows), pd.DataFrame(told[0].rows), check_exact=True)
        pd.testing.assert_series_equal(pd.Series(other.sheet), pd.Series(told[0].sheet), check_exact=True)
        assert other.specks == told[0].specks
        assert other.histograms == told[0].histograms
        assert np.array_equal(other.fine, told[0].fine)
        assert np.array_equal(other.laying.warp_px, told[0].laying.warp_px)


@pytest.mark.parametrize("region", ["open", "hand", "foot"])
def test_film_on_ground(same, filmed, region):
    assert by_region(same)[region]["plate_tone_density"] == pytest.approx(0.03, abs=0.002)
    assert by_region(filmed)[region]["plate_tone_density"] == pytest.approx(0.09, abs=0.002)


@pytest.mark.parametrize("region", ["hatch", "cross"])
def test_film_in_the_gaps_of_hatching(same, filmed, region):
    """The change of film is right to 0.002 D, its level within what the uncertainty states twice over."""
    before, after = by_region(same)[region], by_region(filmed)[region]
    assert after["plate_tone_density"] - before["plate_tone_density"] == pytest.approx(0.06, abs=0.002)
    assert before["plate_tone_density"] == pytest.approx(0.03, abs=2 * before["u_plate_tone_density"])
    assert 0.001 <= before["u_plate_tone_density"] <= 0.012
    assert "ground from gaps" in before["quality"]


@pytest.mark.parametrize("region", ["hatch", "cross", "hand", "foot"])
def test_film_changes_no_line(same, filmed, region):
    before, after = by_region(same)[region], by_region(filmed)[region]
    assert after["line_load_um"] == pytest.approx(before["line_load_um"], rel=0.005)
    assert after["line_area_fraction"] == pytest.approx(before["line_area_fraction"], abs=0.003)
    assert after["line_length_mm_per_mm2"] == pytest.approx(before["line_length_mm_per_mm2"], rel=0.005)
    # All of the tone moved by the film, as far as the whole scale shows it.
    assert after["tone_distance_density"] == pytest.approx(0.06, abs=0.003)


def test_load_is_width_times_depth(same):
    rows = by_region(same)
    assert rows["hatch"]["line_load_um"] == pytest.approx(60 * DEPTH, rel=0.04)
    assert rows["cross"]["line_load_um"] == pytest.approx(50 * DEPTH, rel=0.05)


def test_paler_ink_lowers_load_by_as_much(bench, same):
    paler = bench.rows("paler", Proof(depth=0.8 * DEPTH))
    for region in ("hatch", "cross", "hand"):
        ratio = paler[region]["line_load_um"] / by_region(same)[region]["line_load_um"]
        assert ratio == pytest.approx(0.8, abs=0.015)


def test_half_of_the_strokes_missing_breaks_continuity(bench):
    strokes = drawn_plate().copy()
    hatch = np.flatnonzero(np.isclose(strokes[:, 4], 0.06))
    row = bench.rows("missing", Proof(strokes=np.delete(strokes, hatch[::2], axis=0)))["hatch"]
    assert row["line_continuity_fraction"] == pytest.approx(0.5, abs=0.05)
    assert row["line_length_mm_per_mm2"] == pytest.approx(2.5, rel=0.1)


@pytest.mark.parametrize("shift", [(0.12, -0.06), (-0.1, 0.16)])
def test_a_doubled_sheet_tells_its_shift(bench, shift):
    sheet = bench.measure("doubled", Proof(ghost_mm=shift)).sheet
    assert sheet["doubling_um"] == pytest.approx(1000 * np.hypot(*shift), abs=30)
    off = (sheet["doubling_deg"] - np.degrees(np.arctan2(-shift[1], shift[0])) + 180) % 360 - 180
    assert abs(off) < 10
    assert sheet["doubling_fraction"] == pytest.approx(0.3, abs=0.12)


@pytest.mark.parametrize("ends", [((1.5, 2.0), (22.0, 4.0)), ((1.0, 8.0), (23.0, 9.5))])
def test_a_crease_tells_its_length(bench, ends):
    sheet = bench.measure("creased", Proof(crease_mm=ends)).sheet
    assert sheet["crease_mm"] == pytest.approx(np.hypot(*np.subtract(*ends)), rel=0.3)
    assert sheet["doubling_um"] == 0


@pytest.mark.parametrize("ink", [0.0, 0.1, 0.4])
def test_ink_on_the_bevel(bench, ink):
    """On a plate whose strokes keep a millimetre off the mark; the darkest noisy pixels read a little dark."""
    ends = drawn_plate()[:, :4].reshape(-1, 2, 2)
    inner = ((ends > 1.0) & (ends < np.array(SIZE) - 1.0)).all(axis=(1, 2))
    sheet = bench.measure("bevel", Proof(bevel=ink, strokes=drawn_plate()[inner])).sheet
    assert sheet["bevel_density"] == pytest.approx(ink, abs=0.006)


def test_half_of_the_gaps_filled_is_half_open(bench, same):
    """Gaps of the hatching are shut from its middle on to one end."""
    plate = drawn_plate()
    hatch = plate[np.isclose(plate[:, 4], 0.06)]
    gaps = (hatch[1:] + hatch[:-1]) / 2
    gaps[:, 2:4] = (gaps[:, :2] + gaps[:, 2:4]) / 2
    gaps[:, 4] = 0.2 - 0.06
    row = bench.rows("clogged", Proof(strokes=np.vstack((plate, gaps))))["hatch"]
    assert by_region(same)["hatch"]["hatch_open_fraction"] == pytest.approx(1.0, abs=0.01)
    assert row["hatch_open_fraction"] == pytest.approx(0.5, abs=0.05)


def test_specks_are_counted(bench):
    places = ((18.0, 19.5), (19.5, 20.2), (21.0, 22.1), (20.2, 21.5), (18.5, 22.6))
    row = bench.rows("specked", Proof(specks_mm=places))["open"]
    # Five on the ground of the region, which is all of its 25.9 mm² but what lies close to lines.
    assert row["dark_specks_per_cm2"] * 0.2592 == pytest.approx(5, rel=0.1)
    assert row["light_specks_per_cm2"] == 0
    assert row["plate_tone_density"] == pytest.approx(0.03, abs=0.003)


def test_measuring_twice_gives_the_same(bench, same):
    again = bench.measure("twin", Proof(seed=9))
    assert again.rows == same.rows
    assert again.histograms == same.histograms


def test_neighbours_do_not_depend_on_how_many_are_worked_on_at_a_time(bench, monkeypatch):
    whole = neighbour_distances(bench.standard.lines)
    monkeypatch.setattr(line_neighbours, "CHUNK", 7)
    for one, other in zip(whole, neighbour_distances.__wrapped__(bench.standard.lines), strict=True):
        assert (one == other).all()
    assert np.isfinite(whole[0]).any()
