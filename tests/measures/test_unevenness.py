"""Uncertainties of the film's unevenness, against how far unevennesses of drawn films scatter."""

import numpy as np
import pytest
from scipy.ndimage import uniform_filter
from scipy.signal import lfilter

from proofkit.measures.unevenness import alike_beside, u_course_spread, u_fine_spread
from proofkit.scatter import robust_sd
from tests.heldout.paper import felt


def fields(alike, count, shape=(14, 14), seed=1):
    """Normal cells of spread 1, correlated with the next by `alike` in rows and in columns. (count, rows, columns)"""
    rows, columns = shape[0] + 60, shape[1] + 60
    white = np.random.default_rng(seed).standard_normal((count, rows, columns)) * (1 - alike**2)
    for axis in (1, 2):
        white = lfilter([1.0], [1.0, -alike], white, axis=axis)
    return white[:, 60:, 60:]


@pytest.mark.parametrize("alike", [0.0, 0.3, 0.6])
def test_neighbours_are_alike_as_far_as_they_were_drawn(alike):
    """A quarter of the cells is not known, and some are far off."""
    rng = np.random.default_rng(2)
    found = []
    for cells in fields(alike, 40, (30, 30)):
        cells[rng.random(cells.shape) < 0.25] = np.nan
        cells[rng.random(cells.shape) < 0.02] = 50.0
        found.append(alike_beside(cells))
    assert np.mean(found) == pytest.approx(alike, abs=0.06)


def test_few_neighbours_tell_nothing():
    assert alike_beside(np.full((2, 3), 1.0)) == 0.0


@pytest.mark.parametrize("alike", [0.0, 0.3, 0.6])
def test_uncertainty_of_fine_unevenness_is_its_scatter(alike):
    drawn = fields(alike, 1000, (30, 30))
    found = [robust_sd(cells) for cells in drawn]
    stated = np.mean(
        [u_fine_spread(cells, spread) for cells, spread in zip(drawn[:100], found, strict=False)]
    )
    assert 0.9 < stated / np.std(found) < 1.5


def test_uncertainty_of_fine_unevenness_is_how_paper_differs_from_place_to_place():
    """A felt of fibres in cells of 0.25 mm, slow changes taken off, against the scatter between squares of 12 mm."""
    ratios = []
    for seed in range(4):
        paper = felt(np.random.default_rng(seed), (2400, 2400), 40.0, 0.009)
        cells = paper.reshape(240, 10, 240, 10).mean(axis=(1, 3)).astype(np.float64)
        cells -= uniform_filter(cells, 10)
        squares = cells.reshape(5, 48, 5, 48).swapaxes(1, 2).reshape(25, 48, 48)
        found = [robust_sd(square) for square in squares]
        stated = np.mean([u_fine_spread(square, one) for square, one in zip(squares, found, strict=True)])
        ratios.append(stated / np.std(found, ddof=1))
    assert 0.75 < np.mean(ratios) < 1.35


@pytest.mark.parametrize("clouds", [0.3, 1.0, 3.0])
def test_a_films_own_course_is_no_uncertainty(clouds):
    """One course of spread 1 over the region, on a thousand papers whose clouds are alike by 0.6; on the safe side
    where course and clouds are about as strong, as both make neighbours alike.
    """
    x = np.linspace(-1, 1, 14)
    course = np.sin(2.5 * x)[:, None] * np.cos(2 * x)
    course = (course - course.mean()) / course.std()
    drawn = course + clouds * fields(0.6, 1000)
    found = [robust_sd(cells) for cells in drawn]
    pairs = zip(drawn[:200], found, strict=False)
    stated = np.mean([u_course_spread(cells, spread, clouds) for cells, spread in pairs])
    assert 0.8 < stated / np.std(found) < 2.5


@pytest.mark.parametrize("alike", [0.0, 0.3, 0.6])
def test_where_clouds_are_not_known_all_may_be_theirs(alike):
    drawn = fields(alike, 1000)
    found = [robust_sd(cells) for cells in drawn]
    pairs = zip(drawn[:200], found, strict=False)
    stated = np.mean([u_course_spread(cells, spread, 0.0) for cells, spread in pairs])
    assert 0.9 < stated / np.std(found) < 1.5
