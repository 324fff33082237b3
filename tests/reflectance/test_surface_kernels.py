"""Compiled loops over blocks of the margin against numpy and scipy."""

import numpy as np
import pandas as pd
import pytest
from scipy import ndimage

from proofkit.reflectance.margin import BLOCKS_MIN, _reached
from proofkit.reflectance.surface_kernels import near_surface, square_sums, surface_at


@pytest.fixture
def square() -> np.ndarray:
    """Coefficients up to the third order."""
    rng = np.random.default_rng(1)
    return np.array([[rng.normal() if i + j < 4 else 0.0 for j in range(4)] for i in range(4)])


def test_surface_is_numpys_polynomial(square: np.ndarray) -> None:
    uv = np.random.default_rng(2).uniform(-1.5, 1.5, (50, 2))
    assert surface_at(square, uv) == pytest.approx(np.polynomial.polynomial.polyval2d(*uv.T, square))


def test_blocks_near_a_surface_are_told_from_those_off_it(square: np.ndarray) -> None:
    rng = np.random.default_rng(3)
    uv = np.stack(np.meshgrid(np.linspace(-1, 1, 30), np.linspace(-1, 1, 20)), axis=-1)
    level = np.polynomial.polynomial.polyval2d(uv[..., 0], uv[..., 1], square) + rng.normal(0, 0.02, (20, 30))
    level[5, :7] = np.nan
    even = rng.random((20, 30)) < 0.7
    off = np.abs(level - np.polynomial.polynomial.polyval2d(uv[..., 0], uv[..., 1], square))
    fits, bad = near_surface(level, even, square, uv, 0.02)
    assert np.array_equal(fits, even & (off < 0.02))
    assert np.array_equal(bad, np.isfinite(level) & ~(even & (off < 0.02)))


def test_sums_over_squares_are_those_of_grouping() -> None:
    rng = np.random.default_rng(4)
    uv, level = rng.uniform(-3, 2, (400, 2)), rng.normal(size=400)
    counts, sums = square_sums(uv, level, 0.7)
    table = pd.DataFrame({"u": uv[:, 0], "v": uv[:, 1], "level": level})
    grouped = table.groupby([np.floor(table["u"] / 0.7), np.floor(table["v"] / 0.7)])
    assert counts.tolist() == grouped.size().tolist()
    assert sums == pytest.approx(grouped.sum().to_numpy())


@pytest.mark.parametrize("seed", range(6))
def test_paper_that_is_reached_is_what_scipy_labels(seed: int) -> None:
    rng = np.random.default_rng(seed)
    mask = ndimage.gaussian_filter(rng.normal(size=(60, 90)), 1.5) > 0.0
    bad = ~mask & (rng.random(mask.shape) < 0.9)
    seeds = mask & (rng.random(mask.shape) < 0.01)
    areas = ndimage.binary_opening(bad, structure=np.ones((2, 2)))
    inner = mask & ~ndimage.binary_dilation(areas, structure=np.ones((3, 3)))
    labels, _ = ndimage.label(inner, structure=np.ones((3, 3)))
    expected = np.isin(labels, np.setdiff1d(labels[seeds], 0))
    assert expected.sum() > BLOCKS_MIN
    assert 0 < expected.sum() < mask.sum()
    assert np.array_equal(_reached(mask, bad, seeds), expected)
