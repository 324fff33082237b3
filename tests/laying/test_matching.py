"""Patches are compared as OpenCV compares them: one template at a time, in floats."""

import cv2
import numpy as np
import pytest

from proofkit.laying.coarse import _peaks
from proofkit.laying.matching_kernels import compare_beside, correlate_patches

SIZE, SEARCH = 24, 3
SIDE = SIZE + 2 * SEARCH
LIMITS = (3.0, 0.5, 0.02)


def pictures(seed):
    """Two pictures of blurred grain, the second shifted by (1, -2) cells and noisy."""
    rng = np.random.default_rng(seed)
    wide = cv2.GaussianBlur(rng.uniform(0, 255, (96, 110)).astype(np.float32), (0, 0), 1.5)
    wide = np.clip(30 + 3 * (wide - wide.mean()) + rng.normal(0, 4, wide.shape), 0, 255).astype(np.uint8)
    return wide[4:-4, 4:-4].copy(), wide[3:-5, 6:-2].copy()


def corners_of(shape, step=11):
    rows = range(SEARCH, shape[0] - SIZE - SEARCH, step)
    return np.array([(r, c) for r in rows for c in range(SEARCH, shape[1] - SIZE - SEARCH, step)], np.int32)


def areas_of(sheet, corners):
    """What the sheet shows at each patch and around it, and that all of it lies on the scan."""
    areas = [sheet[top - SEARCH :, left - SEARCH :][:SIDE, :SIDE] for top, left in corners]
    return np.array(areas), np.zeros(len(corners))


def test_scores_are_those_of_the_library():
    standard, sheet = pictures(5)
    corners = corners_of(standard.shape)
    used, scores = correlate_patches(standard, *areas_of(sheet, corners), corners, SIZE, *LIMITS)
    assert used.all()
    for (top, left), score in zip(corners, scores, strict=True):
        patch = standard[top : top + SIZE, left : left + SIZE]
        area = sheet[top - SEARCH : top - SEARCH + SIDE, left - SEARCH : left - SEARCH + SIDE]
        # The library multiplies by Fourier transforms in 32 bit floats: right to some 1e-5.
        assert score == pytest.approx(cv2.matchTemplate(area, patch, cv2.TM_CCOEFF_NORMED), abs=1e-4)


def test_score_is_the_coefficient_of_correlation():
    standard, sheet = pictures(6)
    corners = corners_of(standard.shape)[:3]
    _, scores = correlate_patches(standard, *areas_of(sheet, corners), corners, SIZE, *LIMITS)
    for (top, left), score in zip(corners, scores, strict=True):
        for dy, dx in ((0, 0), (2, 5), (6, 6)):
            r, c = top - SEARCH + dy, left - SEARCH + dx
            pair = standard[top : top + SIZE, left : left + SIZE], sheet[r : r + SIZE, c : c + SIZE]
            assert score[dy, dx] == pytest.approx(
                np.corrcoef(*(part.ravel() for part in pair))[0, 1], abs=1e-6
            )


def test_even_patches_and_even_sheets_are_passed_over():
    standard, sheet = pictures(7)
    corners = np.array([(10, 10), (10, 50), (55, 10)], np.int32)
    standard[10 : 10 + SIZE, 10 : 10 + SIZE] = 40
    sheet[5:45, 45:90] = 60
    used, _ = correlate_patches(standard, *areas_of(sheet, corners), corners, SIZE, *LIMITS)
    assert used.tolist() == [False, False, True]


def test_areas_beyond_the_scan_are_passed_over():
    standard, sheet = pictures(8)
    corners = np.array([(20, 20), (20, 50)], np.int32)
    areas, beyond = areas_of(sheet, corners)
    beyond[0] = 1 / SIDE  # one column of 30, more than 2 %
    used, _ = correlate_patches(standard, areas, beyond, corners, SIZE, *LIMITS)
    assert used.tolist() == [False, True]


def test_an_even_window_within_a_lively_area_scores_nothing():
    standard, sheet = pictures(9)
    sheet[17 : 17 + SIZE, 17 : 17 + SIZE] = 90
    corners = np.array([(20, 20)], np.int32)
    used, scores = correlate_patches(standard, *areas_of(sheet, corners), corners, SIZE, *LIMITS)
    assert used.all()
    assert scores[0, 0, 0] == 0.0
    assert np.isfinite(scores).all()


@pytest.mark.parametrize("every", [1, 3])
def test_windows_are_compared_where_they_lie_and_beside(every):
    standard, sheet = pictures(10)
    rows, columns, top, left, step = 20, 31, 22, 25, (-3, 4)
    part = (1, rows // every - 1, 2, columns - 3)
    inside = np.s_[part[0] : part[1], part[2] : part[3]]
    window = sheet[top : top + rows : every, left : left + columns]

    def near(down, right):
        """The best coefficient of correlation of nine places."""
        return max(
            np.corrcoef(
                window[inside].ravel(), standard[r : r + rows : every, c : c + columns][inside].ravel()
            )[0, 1]
            for r in range(top + down - 1, top + down + 2)
            for c in range(left + right - 1, left + right + 2)
        )

    def told(one):
        found = compare_beside(
            standard, one[None], np.array([part]), np.array([(top, left)]), np.array([step]), every
        )
        return [float(values[0]) for values in found]

    spread = window[inside].astype(float).std()
    assert told(window) == pytest.approx([near(0, 0), max(near(*step), near(3, -4)), spread], abs=1e-9)
    assert told(np.full_like(window, 90)) == [0.0, 0.0, 0.0]


def test_of_points_about_as_high_the_nearer_one_is_taken():
    """Two hills of one shape, at (0, -1) and at (3, 1) cells, the second a little higher; then much higher."""
    down, right = np.mgrid[-5:6, -5:6]
    for higher, wanted in ((0.03, (0, -1)), (0.5, (3, 1))):
        hills = [
            top * np.exp(-((right - x) ** 2 + (down - y) ** 2) / 2)
            for top, (x, y) in ((0.6, (0, -1)), (0.6 + higher, (3, 1)))
        ]
        peaks = _peaks(np.maximum(*hills)[None].astype(np.float32), 0.02)
        assert peaks.shifts[0] == pytest.approx(wanted, abs=0.05)
        assert peaks.height[0] == pytest.approx(0.6 + (higher if wanted == (3, 1) else 0))
