"""Regions proposed for a plate that has none drawn."""

from types import SimpleNamespace

import numpy as np
import pytest

from proofkit.folder.edition import rectangle
from proofkit.sheet.proposing import _largest_rectangle, propose_regions
from proofkit.sheet.standard import make_standard
from tests.laying.plates import SIZE
from tests.sheet.proofs import edition_of


@pytest.fixture(scope="module")
def proposed(bench):
    edition = edition_of(bench.folder, *bench.edition.pulls, regions=())
    return make_standard(edition, edition.pulls[0]).regions


def test_they_lie_on_the_plate_and_are_named_apart(proposed):
    assert len(proposed) >= 2
    assert len({region.name for region in proposed}) == len(proposed)
    plate = rectangle(0, 0, *SIZE)
    for region in proposed:
        assert region.proposed
        assert plate.contains(region.outline_mm)
        assert region.outline_mm.area >= 16


def test_line_work_and_open_ground_are_told_apart(proposed):
    by_work = {work: [r.outline_mm for r in proposed if r.work == work] for work in ("lines", "open")}
    assert by_work["lines"]
    open_ground = rectangle(16.5, 17.5, 23.0, 24.5)
    assert all(outline.difference(open_ground).area < 0.3 * outline.area for outline in by_work["open"])
    hand = rectangle(0, 0, 24, 17)
    assert any(outline.intersection(hand).area > 20 for outline in by_work["lines"])


def test_regions_of_a_kind_do_not_overlap(proposed):
    for i, one in enumerate(proposed):
        for other in proposed[i + 1 :]:
            if one.work == other.work:
                assert one.outline_mm.intersection(other.outline_mm).area < 1e-9


def test_largest_rectangle_against_trying_all():
    rng = np.random.default_rng(5)
    for _ in range(30):
        cells = rng.random((9, 11)) < 0.75
        top, left, height, width = _largest_rectangle(cells)
        assert cells[top : top + height, left : left + width].all()
        largest = max(
            (bottom - t) * (right - le)
            for t in range(9)
            for bottom in range(t + 1, 10)
            for le in range(11)
            for right in range(le + 1, 12)
            if cells[t:bottom, le:right].all()
        )
        assert height * width == largest


def test_where_no_field_is_large_enough_smaller_ones_are_proposed(monkeypatch):
    """A strip of hatching 3 mm high is the largest field of a very small plate."""
    monkeypatch.setattr(
        "proofkit.sheet.proposing.lines_mask",
        lambda lines, box, reach: np.zeros((box.rows, box.columns), bool),
    )
    monkeypatch.setattr(
        "proofkit.sheet.proposing.reflectance_cells",
        lambda scan, paper, laying, box: np.full((box.rows, box.columns), 0.2, np.float32),
    )
    x, y = (part.ravel() for part in np.meshgrid(np.arange(5.0, 15.0, 0.1), np.arange(5.0, 9.01, 0.25)))
    lines = SimpleNamespace(
        lines=SimpleNamespace(points_mm=np.column_stack((x, y)), size=x.size, length_mm=np.full(x.size, 0.1))
    )
    found = propose_regions(None, None, None, lines, (24.0, 14.0))
    assert {region.work for region in found} == {"lines"}
    for region in found:
        left, top, right, bottom = region.outline_mm.bounds
        assert 2.0 <= min(right - left, bottom - top) < 4.0
        assert rectangle(4, 4, 16, 10).contains(region.outline_mm)
