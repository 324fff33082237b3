"""Regions are drawn, moved, renamed and taken back; what cannot be is refused in words, and nobody's work is lost."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from proofkit.errors import RegionError
from proofkit.folder.edition import rectangle
from proofkit.folder.guarded import ChangedElsewhereError
from proofkit.folder.read import read_edition
from proofkit.widgets.region_steps import (
    add_region,
    keep_mine,
    parse_corners,
    redo,
    remove_region,
    rename_region,
    set_bounds,
    set_corners,
    set_work,
    shift_region,
    take_theirs,
    undo,
)
from proofkit.widgets.state import BenchState, open_folder
from proofkit.widgets.store import BenchStore

PLATE = (24.0, 30.0)
SQUARE = [(9.0, 20.0), (14.0, 20.0), (14.0, 26.5), (9.0, 26.5)]


@pytest.fixture
def state(edition):
    return open_folder(BenchState(), edition)


def on_disk(edition):
    return {region.name: region for region in read_edition(edition).regions}


def test_a_drawn_region_is_on_disk_at_once_in_plate_mm(state, edition):
    after = add_region(state, SQUARE, "tone", PLATE)
    assert after.chosen == "region 1"
    assert on_disk(edition)["region 1"].outline_mm.equals(rectangle(9.0, 20.0, 14.0, 26.5))
    assert on_disk(edition)["region 1"].work == "tone"
    assert add_region(after, [(1, 20), (5, 20), (5, 24)], "lines", PLATE).chosen == "region 2"


@pytest.mark.parametrize(
    ("points", "why"),
    [
        ([(20, 20), (26, 20), (26, 25), (20, 25)], r"to 26\.0 mm .* plate is 24\.0 mm wide"),
        ([(2, 2), (7, 2), (7, 5), (2, 5)], r"shares 15\.0 mm² with region 'sky'"),
        ([(2, 20), (6, 26), (6, 20), (2, 26)], "crosses itself"),
        ([(2, 20), (2.4, 20), (2.4, 20.5), (2, 20.5)], r"0\.20 mm²"),
    ],
)
def test_what_cannot_be_a_region_is_refused_and_nothing_changes(state, edition, points, why):
    before = (edition / "regions.csv").read_bytes()
    with pytest.raises(RegionError, match=why):
        add_region(state, points, "lines", PLATE)
    assert (edition / "regions.csv").read_bytes() == before


def test_neighbours_may_touch(state):
    assert len(add_region(state, [(8, 1), (12, 1), (12, 6), (8, 6)], "lines", PLATE).regions) == 3


def test_another_name_takes_a_proposed_region_over(state, edition):
    assert on_disk(edition)["proposed lines 1"].proposed
    after = rename_region(state, "proposed lines 1", " gable ")
    assert not on_disk(edition)["gable"].proposed
    assert after.chosen == "gable"
    for name, why in (("Sky", "already"), ("sheet", "uses? otherwise"), ("", "empty")):
        with pytest.raises(RegionError, match=why):
            rename_region(after, "gable", name)


def test_a_region_is_moved_set_and_given_another_work(state, edition):
    moved = shift_region(state, "sky", (2.5, -0.5), PLATE)
    assert on_disk(edition)["sky"].outline_mm.bounds == pytest.approx((3.5, 0.5, 10.5, 5.5))
    sized = set_bounds(moved, "sky", (1.0, 1.0, 4.0, 5.0), PLATE)
    assert on_disk(edition)["sky"].outline_mm.area == pytest.approx(12.0)
    shaped = set_corners(sized, "sky", parse_corners("1 1, 7 1, 4 6.5"), PLATE)
    assert on_disk(edition)["sky"].outline_mm.area == pytest.approx(16.5)
    with pytest.raises(RegionError, match="three or more"):
        parse_corners("1 1, 7,1")
    set_work(shaped, "sky", "tone")
    assert on_disk(edition)["sky"].work == "tone"
    with pytest.raises(RegionError, match="no area"):
        set_bounds(sized, "sky", (4.0, 1.0, 1.0, 5.0), PLATE)
    with pytest.raises(RegionError, match=r"reaches from x = -3\.0"):
        shift_region(sized, "sky", (-4.0, 0.0), PLATE)


STEPS = st.lists(st.sampled_from(["add", "remove", "shift", "undo", "redo"]), max_size=14)


@given(steps=STEPS)
def test_whatever_was_done_can_be_taken_back(tmp_path_factory, steps):
    """Property: as many steps back as were done lead to the beginning, and as many forth to the end."""
    folder = tmp_path_factory.mktemp("edition")
    (folder / "a.tif").touch()
    state = open_folder(BenchState(), folder)
    store = BenchStore()
    store.state = state
    for number, step in enumerate(steps):
        x = 1.0 + number * 2.0
        if step == "add":
            store.run(add_region, [(x, 1), (x + 1.5, 1), (x + 1.5, 3), (x, 3)], "lines", (60.0, 40.0))
        elif step in {"undo", "redo"}:
            store.run(undo if step == "undo" else redo)
        elif store.state.regions:
            name = store.state.regions[0].name
            if step == "remove":
                store.run(remove_region, name)
            else:
                store.run(shift_region, name, (0.0, 0.5), (60.0, 40.0))
    end, done = store.state.regions, len(store.state.past)
    for _ in range(done):
        assert store.run(undo)
    assert store.state.regions == ()
    assert not store.run(undo)
    for _ in range(done):
        assert store.run(redo)
    names = [region.name for region in store.state.regions]
    assert names == [region.name for region in end]
    assert list(on_disk(folder)) == names
    for mine, theirs in zip(store.state.regions, end, strict=True):
        assert np.allclose(mine.outline_mm.bounds, theirs.outline_mm.bounds)


def by_hand(edition):
    text = (edition / "regions.csv").read_text(encoding="utf-8")
    (edition / "regions.csv").write_text(text.replace("sky", "clouds"), encoding="utf-8")


def test_regions_changed_by_hand_are_asked_about_not_overwritten(state, edition):
    by_hand(edition)
    with pytest.raises(ChangedElsewhereError, match=r"regions\.csv was changed outside the bench"):
        add_region(state, SQUARE, "lines", PLATE)
    assert set(on_disk(edition)) == {"clouds", "proposed lines 1"}


def test_the_person_says_which_regions_count(state, edition):
    store = BenchStore()
    store.state = add_region(state, SQUARE, "lines", PLATE)
    by_hand(edition)
    assert not store.run(remove_region, "sky")
    assert store.state.is_disputed
    assert store.run(take_theirs)
    assert "clouds" in {region.name for region in store.state.regions}
    assert not store.state.is_disputed
    by_hand_again = (edition / "regions.csv").read_text(encoding="utf-8").replace("clouds", "mist")
    (edition / "regions.csv").write_text(by_hand_again, encoding="utf-8")
    assert not store.run(remove_region, "clouds")
    assert store.run(keep_mine)
    assert set(on_disk(edition)) == {"clouds", "proposed lines 1", "region 1"}


def test_a_second_bench_on_the_same_folder_overwrites_nothing(edition):
    one, two = BenchStore(), BenchStore()
    one.run(open_folder, edition)
    two.run(open_folder, edition)
    assert one.run(add_region, SQUARE, "lines", PLATE)
    assert not two.run(remove_region, "sky")
    assert two.state.is_disputed
    assert set(on_disk(edition)) == {"sky", "proposed lines 1", "region 1"}
