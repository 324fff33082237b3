"""A sheet lies and reads within its plate mark as it did with all of its margin."""

from dataclasses import replace

import numpy as np
import pytest

from proofkit.errors import UnlikeError
from proofkit.quality import Quality
from proofkit.sheet import measure_sheet
from proofkit.sheet.cutting import cut_to_plate, holds_plate, moved_laying
from proofkit.sheet.laying_down import lay_down
from proofkit.sheet.reading import read_sheet
from tests.laying.plates import SIZE, lie
from tests.lines.drawn import plane_of
from tests.sheet.proofs import Proof, light_of, write_picture

MARGIN_PX = 560
"""24 mm at 600 ppi."""


@pytest.fixture(scope="module")
def wide(bench):
    """A pull on a sheet with 24 mm of margin more on all sides, whose plate mark has to be found."""
    how = lie(warp_mm=0.05, turn_deg=0.4)
    light = np.pad(light_of(Proof(film=0.09, how=how)), MARGIN_PX, constant_values=1.0)
    return write_picture(bench.folder, "wide", plane_of(light, seed=8))


def laid_down(bench, read):
    made = bench.standard
    return lay_down(read, made.pictures, made.lines, made.read, made.edges)


def test_a_sheet_lies_as_it_did_with_its_margin(bench, wide):
    whole = read_sheet(bench.edition, wide)
    assert whole.frame is not None
    size = whole.scan.plane.size
    down = laid_down(bench, whole)
    part = cut_to_plate(read_sheet(bench.edition, wide))
    assert part.read.scan.plane.size < 0.5 * size
    kept = laid_down(bench, part.read)
    assert holds_plate(part, kept.laid.laying, SIZE)
    back = moved_laying(kept.laid.laying, part.origin_px)
    # Places differ by what is rounded off numbers of thousands of pixels.
    assert back.affine == pytest.approx(down.laid.laying.affine, abs=1e-9)
    assert back.warp_px == pytest.approx(down.laid.laying.warp_px, abs=1e-9)
    assert kept.corners_px + part.origin_px == pytest.approx(down.corners_px, abs=1e-9)
    for name in ("load_um", "offset_mm", "core_reflectance"):
        here, there = (getattr(d.laid.crossings, name)[:] for d in (kept, down))
        assert here == pytest.approx(there, rel=1e-8, abs=1e-9, nan_ok=True)


def test_results_are_told_in_the_scans_own_pixels(bench, wide):
    read = read_sheet(bench.edition, wide)
    result = measure_sheet(bench.edition, wide, bench.standard)
    assert result.corners_px == pytest.approx(read.frame.corners_px, abs=1e-9)
    assert (result.paper.x0_px, result.paper.y0_px) == pytest.approx(
        (read.paper.x0_px, read.paper.y0_px), abs=1e-9
    )
    middle = result.laying.affine[:, :2] @ (np.array(SIZE) / 2) + result.laying.affine[:, 2]
    assert middle == pytest.approx(read.frame.corners_px.mean(axis=0), abs=2.0)


def test_a_mark_that_leaves_out_a_part_of_the_plate_is_not_trusted(bench, wide):
    read = read_sheet(bench.edition, wide)
    per_mm = read.scan.file.ppi_x / 25.4
    inner = read.frame.corners_px - np.outer([0, 1, 1, 0], [9 * per_mm, 0])
    part = cut_to_plate(replace(read, frame=replace(read.frame, corners_px=inner, marks=())))
    try:
        laying = laid_down(bench, part.read).laid.laying
    except UnlikeError:
        return
    assert not holds_plate(part, laying, SIZE)


def test_a_sheet_without_a_whole_mark_is_kept_whole(bench, wide):
    read = read_sheet(bench.edition, wide)
    shape = read.scan.plane.shape
    assert cut_to_plate(replace(read, frame=None)) is None
    part_of_mark = replace(read.frame, quality=Quality.PART_OF_PLATE_MARK)
    assert cut_to_plate(replace(read, frame=part_of_mark)) is None
    assert read.scan.plane.shape == shape
