"""Strips of cells: what kernels count is what plain array work counts."""

import numpy as np
import pytest

from proofkit.measures.strip_kernels import (
    counts_along,
    fullest_strip,
    longest_filled,
    strip_counts,
    strip_power,
    strip_sums,
)

PITCH = 0.1


def test_points_are_counted_in_strips_of_a_direction():
    points = np.random.default_rng(3).uniform(0, 40, (500, 2))
    angle = np.radians(33.0)
    low, counts = strip_counts(points, np.sin(angle), np.cos(angle), 0.3)
    across = points[:, 0] * np.sin(angle) - points[:, 1] * np.cos(angle)
    assert low == across.min()
    strip = ((across - across.min()) / 0.3).astype(int)
    assert (counts == np.bincount(strip, minlength=strip.max() + 7)).all()
    beside = (np.roll(counts, 3) + np.roll(counts, -3)) / 2
    score = (counts - beside) / np.sqrt(beside + 2)
    found = fullest_strip(points, np.sin(angle), np.cos(angle), 0.3, 3)
    assert found == pytest.approx((score.max(), low + (np.argmax(score) + 0.5) * 0.3))


def test_values_are_added_in_strips_a_cell_wide():
    rng = np.random.default_rng(4)
    rows, columns = np.nonzero(rng.random((30, 50)) < 0.4)
    values = rng.normal(size=len(rows))
    place = columns * np.sin(0.7) + rows * np.cos(0.7)
    strip = np.rint(place - place.min()).astype(int)
    number, total = strip_sums(columns, rows, np.sin(0.7), np.cos(0.7), values)
    assert (number == np.bincount(strip)).all()
    assert total == pytest.approx(np.bincount(strip, weights=values))
    long = number >= 6
    means = total[long] / number[long]
    beyond = np.average(means**2, weights=number[long]) - np.var(values) * np.mean(1 / number[long])
    assert not long.all()
    assert strip_power(columns, rows, np.sin(0.7), np.cos(0.7), values, 6, np.var(values)) == pytest.approx(
        beyond
    )
    assert strip_power(columns, rows, np.sin(0.7), np.cos(0.7), values, 99, np.var(values)) == 0


@pytest.mark.parametrize("angle_deg", [0.0, 37.0, 90.0, 151.5])
def test_cells_are_counted_along_a_strip(angle_deg):
    rng = np.random.default_rng(8)
    masks = tuple(rng.random((60, 90)) < share for share in (0.3, 0.5, 0.1))
    direction = np.array([np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))])
    normal = np.array([direction[1], -direction[0]])
    start, steps = np.array([4.5, 3.1]), np.arange(-12.0, 12.0, 0.5)
    along, over = np.arange(0, 0.5, PITCH), np.array([-0.1, 0.0, 0.1]) + 0.7
    xy = start + (steps[:, None, None, None] + along[:, None, None]) * direction + over[:, None] * normal
    column, row = np.rint(xy / PITCH).astype(int).transpose(3, 0, 1, 2)
    inside = (row >= 0) & (row < 60) & (column >= 0) & (column < 90)
    row, column = np.where(inside, row, 0), np.where(inside, column, 0)
    found = counts_along(start, direction, steps, along, over, PITCH, masks)
    wanted = (*(mask[row, column] & inside for mask in masks), inside)
    for counts, mask in zip(found, wanted, strict=True):
        assert counts == pytest.approx(mask.sum(axis=(1, 2)))
    assert found[3].sum() > 0


def test_the_longest_filled_run_is_that_of_trying_all():
    rng = np.random.default_rng(5)
    for _ in range(200):
        hits = rng.random(rng.integers(1, 40)) < rng.uniform(0.2, 0.95)  # no share of so few is 0.643
        first, last = longest_filled(hits, 0.643)
        runs = [
            end - start
            for start in range(len(hits))
            for end in range(start, len(hits))
            if np.mean(hits[start : end + 1]) >= 0.643
        ]
        assert last - first == max(runs, default=0)
        if last > first:
            assert np.mean(hits[first : last + 1]) >= 0.643
