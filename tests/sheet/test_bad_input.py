"""Sheets that cannot be compared say why in one line; what cannot be measured stays empty, with a flag."""

from dataclasses import replace

import numpy as np
import pytest

from proofkit.arrays import FULL_SCALE
from proofkit.errors import LayingError, ProofkitError
from proofkit.folder.edition import Pull
from proofkit.sheet import make_standard, measure_sheet
from tests.laying.plates import SHAPE, corners, hand_hatching, lie, pull
from tests.lines.drawn import PAPER_LEVEL, plane_of
from tests.scan.scan_files import write_tiff
from tests.sheet.proofs import Proof, by_region, edition_of, light_of, write_picture, write_proof


def blank(seed=3):
    noise = np.random.default_rng(seed).normal(PAPER_LEVEL, 0.006, SHAPE)
    return np.rint(noise * FULL_SCALE).astype(np.uint16)


def told_as(result, pull, word):
    """A sheet that was not laid says what it is, of which file, why in one line, and measures nothing."""
    assert {"blank", "other plate"} & set(str(result.sheet["quality"]).split("; ")) == {word}
    assert (result.sheet["pull"], result.sheet["scan"]) == (pull.pull, pull.scan)
    assert result.not_laid
    assert "\n" not in result.not_laid
    assert (result.rows, result.specks, result.fine) == ([], [], None)
    assert "misfit_um" not in result.sheet


@pytest.mark.parametrize("by_hand", [True, False])
def test_a_blank_sheet(bench, by_hand):
    given = corners(lie()) if by_hand else None
    sheet = write_picture(bench.folder, "blank", blank(), corners_px=given)
    result = measure_sheet(bench.edition, sheet, bench.standard)
    told_as(result, sheet, "blank")
    assert result.sheet["paper_density"] == pytest.approx(-np.log10(PAPER_LEVEL), abs=0.002)


def test_another_plate(bench):
    other = write_picture(
        bench.folder, "other", pull(hand_hatching(seed=99), lie()), corners_px=corners(lie())
    )
    result = measure_sheet(bench.edition, other, bench.standard)
    told_as(result, other, "other plate")
    assert "in pulls.csv" in result.not_laid


def test_a_scan_that_is_not_there(bench):
    with pytest.raises(ProofkitError, match=r"gone\.tif"):
        measure_sheet(bench.edition, Pull("gone", "gone.tif"), bench.standard)


def test_a_region_without_lines_leaves_line_measures_empty(bench):
    row = bench.rows("plain", Proof(seed=12))["open, asked for lines"]
    assert "no lines" in row["quality"]
    assert not [name for name in row if "line" in name.removeprefix("u_").split("_")[0]]
    assert row["plate_tone_density"] == pytest.approx(0.03, abs=0.002)


def test_lines_too_fine_for_width_and_core(bench):
    row = bench.rows("fine", Proof(seed=13))["hatch"]
    assert "too fine" in row["quality"]
    for measure in ("line_width_um", "line_core_density", "edge_softness_um", "hollow_index"):
        assert measure not in row
    assert row["line_load_um"] > 0


def test_a_region_partly_outside_the_scan(bench):
    """The scan ends at plate y = 27: the region at the foot is only partly there, the one above is whole."""
    rows = round((27.0 + 4.0) * 600 / 25.4)
    whole = write_proof(bench.folder, "cut", Proof(seed=14), rows=rows)
    cut = Pull(whole.pull, whole.scan)  # corners below the scan cannot be given by hand
    found = by_region(measure_sheet(bench.edition, cut, bench.standard))
    assert "outside sheet" in found["foot"]["quality"]
    assert "outside sheet" not in found["hand"]["quality"]
    # Median of width times depth over the length of the strokes drawn there.
    assert found["hand"]["line_load_um"] == pytest.approx(77.62, rel=0.02)


def test_a_blank_standard_has_no_lines_and_says_so(tmp_path):
    (tmp_path / "scans").mkdir()
    sheet = write_picture(tmp_path, "standard", blank(), corners_px=corners(lie()))
    edition = edition_of(tmp_path, sheet)
    standard = make_standard(edition, sheet)
    assert standard.lines.lines.size == 0
    rows = by_region(measure_sheet(edition, sheet, standard))
    assert "no lines" in rows["hatch"]["quality"]
    assert "line_load_um" not in rows["hatch"]
    assert rows["open"]["plate_tone_density"] == pytest.approx(0, abs=0.002)


def test_low_resolution_is_flagged(bench, tmp_path):
    """The same scan said to have 200 ppi: pixels of 0.127 mm."""
    small = pull(hand_hatching(), lie())[::3, ::3]
    (tmp_path / "scans").mkdir()
    write_tiff(tmp_path / "scans" / "coarse.tif", small, ppi=200)
    sheet = Pull("coarse", "coarse.tif", corners_px=(corners(lie()) / 3).round(3))
    edition = edition_of(tmp_path, sheet)
    rows = measure_sheet(edition, sheet, make_standard(edition, sheet)).rows
    assert all("low resolution" in row["quality"] for row in rows)


def test_a_wrong_resolution_is_told_by_the_size_of_the_plate(bench):
    """The scan of a 600 ppi sheet that says 300 ppi shows a plate of twice the size."""
    plane = pull(hand_hatching(), lie())
    write_tiff(bench.folder / "scans" / "twice.tif", plane, ppi=300)
    with pytest.raises(LayingError, match=r"200\.\d x 200\.\d % .* 300 x 300 ppi cannot be right"):
        measure_sheet(bench.edition, Pull("twice", "twice.tif", corners_px=corners(lie())), bench.standard)


def test_a_flat_field_or_an_edge_that_cannot_be_used_is_flagged_and_the_sheet_goes_on(bench):
    capture = replace(bench.edition.capture, flat_field="no_such_blank.tif", edge_px=(10.0, 10.0, 60.0, 60.0))
    edition = replace(bench.edition, capture=capture)
    pull = write_proof(bench.folder, "uneven", Proof(seed=15))
    result = measure_sheet(edition, pull, bench.standard)
    assert "no flat field" in result.sheet["quality"]
    assert "not evened: There is no 'no_such_blank.tif' in the edition." in result.sheet["curve"]
    assert "no edge" in result.sheet["quality"]
    # Resolution is then told by the blur: a Gaussian keeps half of the contrast at 0.187391 / s.
    assert result.sheet["mtf50_per_mm"] == pytest.approx(187.391 / result.sheet["blur_um"], rel=1e-5)
    assert by_region(result)["hand"]["line_load_um"] > 0


def test_a_flat_field_evens_the_lamp(bench):
    """A lamp that falls off by 12 % from end to end; the same sheet under it reads the same film once it is evened."""
    straight = bench.rows("straight", Proof(seed=16))
    rows, columns = SHAPE
    lamp = (1 - 0.12 * np.linspace(0, 1, rows) ** 3)[:, None] * np.ones((1, columns))
    write_picture(bench.folder, "flat", plane_of(lamp, seed=17))
    pull = write_picture(
        bench.folder, "lamp", plane_of(light_of(Proof(seed=16)) * lamp, seed=16), corners_px=corners(lie())
    )
    edition = replace(bench.edition, capture=replace(bench.edition.capture, flat_field="flat.tif"))
    evened = measure_sheet(edition, pull, bench.standard)
    assert "no flat field" not in evened.sheet["quality"]
    for name in ("open", "hand", "foot"):
        found = by_region(evened)[name]["plate_tone_density"]
        assert found == pytest.approx(straight[name]["plate_tone_density"], abs=0.001)
