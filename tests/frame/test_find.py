"""The plate mark is found where the drawn sheet has it. Truth: the exact geometry of the drawing."""

from dataclasses import replace

import numpy as np
import pytest

from proofkit.errors import FrameError
from proofkit.frame import edge, find_frame, following
from proofkit.frame.candidates import Line
from proofkit.frame.edge import Edge
from proofkit.frame.pieces import View
from proofkit.frame.types import PlateFrame, side_lengths_px
from proofkit.quality import Quality
from proofkit.scan.types import Scan
from tests.frame.sheets import Sheet, as_scan, draw, true_corners

LARGE = (60.0 / 25.4 * 600, 45.0 / 25.4 * 600)
"""Size of the drawn plate at 600 ppi. [px]"""


def edge_errors(frame: PlateFrame, sheet: Sheet) -> np.ndarray:
    """Return how far each side lies off, averaged along it: mean of its two corners' distances. (4,) [px]"""
    truth = true_corners(sheet)
    off = frame.corners_px - truth
    side = np.roll(truth, -1, axis=0) - truth
    normal = np.stack((-side[:, 1], side[:, 0]), axis=1) / np.hypot(*side.T)[:, None]
    return 0.5 * ((off * normal).sum(axis=1) + (np.roll(off, -1, axis=0) * normal).sum(axis=1))


def found(sheet: Sheet) -> PlateFrame:
    return find_frame(draw(sheet), rough_paper=sheet.paper)


@pytest.mark.parametrize(
    "sheet",
    [
        Sheet(),
        Sheet(turn_deg=1.3, seed=3),
        Sheet(turn_deg=-2.0, stretch=(1.015, 0.99), seed=4),
        Sheet(paper=0.7, seed=5),
        Sheet(film=0.03, hatch_mm=0.5, seed=6),
        Sheet(rules_mm=(0.5, 2.0), seed=7),
        Sheet(bed=0.02, turn_deg=-2.0, pencil=True, seed=8),
        Sheet(bed=0.97, turn_deg=0.7, seed=9),
        Sheet(bed=0.5, film=0.03, seed=10),
        Sheet(bed=0.88, shadow=0.3, turn_deg=0.7, seed=11),
        Sheet(film=0.20, seed=12),
    ],
    ids=[
        "plain",
        "turned",
        "stretched",
        "grey paper",
        "hatching",
        "rules",
        "black bed",
        "white bed",
        "grey bed",
        "lid like paper",
        "heavy film",
    ],
)
def test_toned_plate_is_found_within_half_a_pixel(sheet: Sheet) -> None:
    frame = found(sheet)
    assert frame.kinds == ("tone step",) * 4
    assert frame.quality == Quality.NONE
    assert np.abs(edge_errors(frame, sheet)).max() < 0.5
    expected = side_lengths_px(PlateFrame(true_corners(sheet), frame.kinds, frame.u_edges_px, 1.0))
    assert side_lengths_px(frame) == pytest.approx(expected, rel=6e-4)


@pytest.mark.parametrize(
    ("sheet", "kind"),
    [
        (Sheet(film=0.005, emboss=0.02), "emboss shade"),
        (Sheet(film=0.0, emboss=0.02, turn_deg=-1.3), "emboss shade"),
        (Sheet(film=0.004, emboss=0.02, rules_mm=(0.5, 2.0)), "emboss shade"),
        (Sheet(film=0.0, bevel=0.10, turn_deg=1.3), "bevel line"),
        (Sheet(film=0.0, bevel=0.05, rules_mm=(2.0,), pencil=True), "bevel line"),
        (Sheet(film=0.0, bevel=0.10, hatch_mm=0.5), "bevel line"),
        (Sheet(film=0.06, bevel=0.15), "bevel line"),
        (Sheet(film=0.005), "tone step"),
    ],
    ids=[
        "nearly clean",
        "clean",
        "rules",
        "bevel ink",
        "rule and pencil",
        "hatching",
        "film and bevel ink",
        "film alone",
    ],
)
def test_nearly_clean_plate_is_found_by_what_is_there(sheet: Sheet, kind: str) -> None:
    frame = found(sheet)
    assert frame.kinds == (kind,) * 4
    assert np.abs(edge_errors(frame, sheet)).max() < 1.5


@pytest.mark.parametrize("seed", range(4))
def test_thin_film_is_found_on_the_flank_of_a_darker_band(seed: int) -> None:
    """On blocks of 6 mm half of the steps are taken for shade; along a whole edge they are told."""
    sheet = Sheet(film=0.011, band=0.035, grain=0.007, blur_px=0.6, turn_deg=0.8, seed=20 + seed)
    frame = found(sheet)
    assert frame.kinds == ("tone step",) * 4
    assert all(set(marks.kinds) == {"tone step"} for marks in frame.marks)
    assert np.abs(edge_errors(frame, sheet)).max() < 0.5


def test_bowed_edge_keeps_its_corners() -> None:
    """The drawing bows top and bottom by 0.2 mm (4.7 px) between corners that stay where they are."""
    sheet = Sheet(bow_mm=0.2)
    assert np.abs(found(sheet).corners_px - true_corners(sheet)).max() < 0.5


@pytest.mark.parametrize("quarter_turns", [1, 2, 3])
def test_sheet_turned_by_quarters_gives_the_same_rectangle(quarter_turns: int) -> None:
    sheet = Sheet(turn_deg=0.6)
    scan = draw(sheet)
    turned = as_scan(np.ascontiguousarray(np.rot90(scan.plane, quarter_turns)), sheet.ppi)
    frame = find_frame(turned, rough_paper=sheet.paper)
    rows, columns = scan.plane.shape
    points = true_corners(sheet)
    for _ in range(quarter_turns):
        points = np.stack((points[:, 1], columns - 1 - points[:, 0]), axis=1)
        rows, columns = columns, rows
    expected = np.roll(points, -quarter_turns, axis=0)
    assert frame.corners_px == pytest.approx(expected, abs=0.6)


def test_resolution_may_differ_between_the_axes() -> None:
    sheet = Sheet()
    scan = draw(sheet)
    rows = scan.plane.shape[0] // 2 * 2
    half = scan.plane[:rows].reshape(-1, 2, scan.plane.shape[1]).mean(axis=1).astype(np.uint16)
    squeezed = Scan(replace(scan.file, ppi_y=300.0, height=len(half)), half, scan.overview, 8, "linear")
    frame = find_frame(squeezed, rough_paper=sheet.paper)
    expected = true_corners(sheet) * (1.0, 0.5) - (0.0, 0.25)
    assert frame.corners_px == pytest.approx(expected, abs=0.5)


@pytest.mark.parametrize(("ppi", "plate_mm"), [(300.0, (80.0, 60.0)), (1200.0, (30.0, 25.0))])
def test_other_resolutions(ppi: float, plate_mm: tuple[float, float]) -> None:
    sheet = Sheet(ppi=ppi, plate_mm=plate_mm, film=0.04, grain=0.01)
    assert np.abs(edge_errors(found(sheet), sheet)).max() < 0.5 * max(1.0, ppi / 600)


def test_rough_paper_level_may_be_off_by_some_percent() -> None:
    sheet = Sheet()
    scan = draw(sheet)
    for factor in (0.95, 1.05):
        frame = find_frame(scan, rough_paper=sheet.paper * factor)
        assert np.abs(edge_errors(frame, sheet)).max() < 0.5


@pytest.mark.parametrize(
    "sheet",
    [
        Sheet(no_plate=True),
        Sheet(no_plate=True, pencil=True),
        Sheet(no_plate=True, bed=0.02),
        Sheet(no_plate=True, bed=0.97, turn_deg=1.0),
    ],
    ids=["blank", "pencil", "black bed", "white bed"],
)
def test_sheet_without_plate_mark_is_an_error_in_one_line(sheet: Sheet) -> None:
    with pytest.raises(FrameError, match=r"No plate mark was found on drawn\.tif") as caught:
        found(sheet)
    assert "\n" not in str(caught.value)


def test_missing_side_is_placed_from_the_size_of_the_plate() -> None:
    """The sheet is stretched by 1 % along x, unknown to the finder, which sees it on no other side."""
    sheet = Sheet(hide=("left",), work="disc", stretch=(1.01, 1.0))
    frame = find_frame(draw(sheet), rough_paper=sheet.paper, size_px=LARGE)
    assert frame.kinds == ("tone step", "tone step", "tone step", "not found")
    assert Quality.PART_OF_PLATE_MARK in frame.quality
    errors = np.abs(edge_errors(frame, sheet))
    assert errors[:3].max() < 2.5  # top and bottom fade out toward the missing side
    assert errors[3] < 3 * frame.u_edges_px[3]
    assert frame.u_edges_px[3] > 3.0


def test_two_neighbouring_sides_are_enough_when_the_size_is_known() -> None:
    sheet = Sheet(hide=("left", "top"), work="disc")
    frame = find_frame(draw(sheet), rough_paper=sheet.paper, size_px=LARGE)
    assert [k == "not found" for k in frame.kinds] == [True, False, False, True]
    # both fade out toward the missing sides, so that their slant is less certain: 0.2 mm
    assert np.abs(edge_errors(frame, sheet))[1:3].max() < 4.7
    missing = [0, 3]
    assert (np.abs(edge_errors(frame, sheet)) < 3 * np.array(frame.u_edges_px))[missing].all()


def test_size_may_be_given_for_the_plate_turned_by_a_quarter() -> None:
    sheet = Sheet(hide=("left",), work="disc")
    frame = find_frame(draw(sheet), rough_paper=sheet.paper, size_px=LARGE[::-1])
    assert abs(edge_errors(frame, sheet)[3]) < 3 * frame.u_edges_px[3]


def test_missing_side_is_placed_where_the_others_stop() -> None:
    sheet = Sheet(film=0.0, bevel=0.1, hide=("right",), work="disc")
    frame = find_frame(draw(sheet), rough_paper=sheet.paper)
    assert frame.kinds == ("bevel line", "not found", "bevel line", "bevel line")
    assert Quality.PART_OF_PLATE_MARK in frame.quality
    assert abs(edge_errors(frame, sheet)[1]) < 2 * frame.u_edges_px[1]


def test_side_that_fades_out_is_an_error_that_names_it() -> None:
    sheet = Sheet(hide=("left",), work="disc")
    with pytest.raises(FrameError, match=r"left edge .* drawn\.tif.*plate_width_mm") as caught:
        found(sheet)
    assert "\n" not in str(caught.value)


def test_known_size_tells_the_mark_from_a_block_of_image() -> None:
    """A block of hatching 6 mm inside the mark has four straight edges of its own; its size is 48 x 33 mm."""
    sheet = Sheet(film=0.005, seed=14)
    frame = find_frame(draw(sheet), rough_paper=sheet.paper, size_px=LARGE)
    assert np.abs(edge_errors(frame, sheet)).max() < 1.5


@pytest.mark.parametrize("size", [LARGE, LARGE[::-1]], ids=["upright", "turned by a quarter"])
def test_lines_that_lie_as_on_another_print_are_followed_first(
    size: tuple[float, float], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The print is 3 % larger than the sheet; edges of the hatching and of the bed are left alone."""
    sheet = Sheet(bed=0.5, film=0.03, seed=10)
    scan = draw(sheet)
    followed: list[float] = []

    def follow(view: View, line: Line, inward: int, span_px: tuple[float, float]) -> Edge | None:
        followed.append(line.place)
        return edge.follow(view, line, inward, span_px)

    monkeypatch.setattr(following, "follow", follow)
    plain = find_frame(scan, rough_paper=sheet.paper)
    of_all = len(followed)
    followed.clear()
    frame = find_frame(scan, rough_paper=sheet.paper, like_px=(size[0] * 1.03, size[1] * 1.03))
    assert np.array_equal(frame.corners_px, plain.corners_px)
    assert frame.kinds == plain.kinds
    assert len(followed) < of_all / 2


def test_print_of_another_size_is_found_all_the_same() -> None:
    sheet = Sheet(film=0.03, hatch_mm=0.5, seed=6)
    scan = draw(sheet)
    plain = find_frame(scan, rough_paper=sheet.paper)
    other = find_frame(scan, rough_paper=sheet.paper, like_px=(0.8 * LARGE[0], 0.8 * LARGE[1]))
    assert np.array_equal(other.corners_px, plain.corners_px)


@pytest.mark.parametrize("level", [0.0, -0.2, 2.0, float("nan")])
def test_impossible_paper_level_is_an_error(level: float) -> None:
    scan = as_scan(np.full((800, 800), 50_000, np.uint16), 600.0)
    with pytest.raises(FrameError, match="level of bare paper"):
        find_frame(scan, rough_paper=level)


@pytest.mark.parametrize("shape", [(20, 20), (3, 900), (400, 400)])
def test_scan_too_small_for_a_plate_has_no_mark(shape: tuple[int, int]) -> None:
    scan = as_scan(np.full(shape, 50_000, np.uint16), 600.0)
    with pytest.raises(FrameError, match="No plate mark"):
        find_frame(scan, rough_paper=50_000 / 65535)


def test_scan_is_left_as_it_was() -> None:
    scan = draw(Sheet())
    before = scan.plane.copy()
    find_frame(scan, rough_paper=0.85)
    assert np.array_equal(scan.plane, before)


def test_bevel_band_covers_line_and_shade() -> None:
    """The drawn pair of embossing reaches 0.4 mm (2 sigma) to both sides, the drawn film edge 3 px."""
    shade = found(Sheet(film=0.005, emboss=0.02))
    film = found(Sheet())
    assert 0.4 * 600 / 25.4 < shade.bevel_width_px < 1.6 * 600 / 25.4
    assert 3 <= film.bevel_width_px < shade.bevel_width_px
