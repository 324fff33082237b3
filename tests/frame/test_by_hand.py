import numpy as np
import pytest

from proofkit.errors import FrameError
from proofkit.frame import frame_from_corners
from proofkit.quality import Quality
from tests.frame.sheets import as_scan

SCAN = as_scan(np.full((1400, 1800), 60_000, np.uint16), 600.0)
CORNERS = np.array([(200.0, 150.0), (1600.0, 160.0), (1595.0, 1200.0), (195.0, 1190.0)])


def test_corners_are_kept_and_marked_as_by_hand() -> None:
    frame = frame_from_corners(CORNERS, SCAN)
    assert np.array_equal(frame.corners_px, CORNERS)
    assert frame.kinds == ("by hand",) * 4
    assert frame.quality == Quality.CORNERS_BY_HAND
    assert all(u > 0 for u in frame.u_edges_px)


@pytest.mark.parametrize("order", [(0, 1, 3, 2), (0, 3, 2, 1), (0, 2, 1, 3), (0, 2, 3, 1), (0, 3, 1, 2)])
def test_wrong_order_from_the_top_left_is_put_right(order: tuple[int, ...]) -> None:
    assert np.array_equal(frame_from_corners(CORNERS[list(order)], SCAN).corners_px, CORNERS)


@pytest.mark.parametrize("start", [1, 2, 3])
def test_clockwise_from_another_corner_is_a_turned_sheet(start: int) -> None:
    turned = np.roll(CORNERS, -start, axis=0)
    assert np.array_equal(frame_from_corners(turned, SCAN).corners_px, turned)


@pytest.mark.parametrize("order", [(1, 0, 3, 2), (2, 1, 0, 3), (1, 0, 2, 3)])
def test_wrong_order_from_another_corner_is_doubtful(order: tuple[int, ...]) -> None:
    with pytest.raises(FrameError, match="do not go clockwise"):
        frame_from_corners(CORNERS[list(order)], SCAN)


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        (CORNERS[:3], "4 pairs"),
        (np.where(CORNERS == 150.0, np.nan, CORNERS), "4 pairs"),
        (CORNERS + np.array([300.0, 0.0]), r"\(1900\.0, 160\.0\) lies outside the scan of 1800 x 1400 px"),
        (CORNERS * 0.1 + 300.0, r"a side is 4\.\d\d mm long, at least 10 mm"),
        (CORNERS + np.array([(0, 0), (0, 0), (-500.0, 0), (0, 0)]), "degrees off square"),
        (np.repeat(CORNERS[:1], 4, axis=0), r"0\.00 mm long"),
    ],
)
def test_what_is_wrong_is_told_in_one_line(corners: np.ndarray, words: str) -> None:
    with pytest.raises(FrameError, match=words) as caught:
        frame_from_corners(corners, SCAN)
    assert "\n" not in str(caught.value)


def test_all_problems_are_told_at_once() -> None:
    with pytest.raises(FrameError, match=r"outside the scan.*outside the scan.*off square"):
        frame_from_corners(CORNERS + np.array([(-400.0, 0), (0, 0), (0, 900.0), (0, 0)]), SCAN)


def test_given_corners_are_not_changed() -> None:
    given = CORNERS[[0, 1, 3, 2]].copy()
    frame_from_corners(given, SCAN)
    assert np.array_equal(given, CORNERS[[0, 1, 3, 2]])
