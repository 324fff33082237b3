"""Which pieces of line are a mesh, on courses drawn by formula."""

from dataclasses import replace

import numpy as np
import pytest

from proofkit.states.mesh import is_mesh, turning_deg_per_mm
from tests.lines.drawn import hatching, stroke
from tests.states.test_differences import courses


def tangle(rng, count, length=1.0, side=4.0):
    """Short pieces in no order on a square of `side`: `count * length / side**2` mm of them on a mm²."""
    return np.array(
        [
            stroke(x, y, turn, length, 0.08)
            for x, y, turn in zip(
                rng.uniform(4, 4 + side, count), rng.uniform(4, 4 + side, count), rng.uniform(0, 180, count),
                strict=True,
            )
        ]
    )  # fmt: skip


def test_a_tangle_of_short_pieces_is_a_mesh():
    assert is_mesh(courses(tangle(np.random.default_rng(1), 110))).mean() > 0.9


def test_hatching_and_short_strokes_side_by_side_are_not():
    for angle in (0, 35, 110):
        assert not is_mesh(courses(hatching(angle, 0.25, 0.08))).any()
        assert not is_mesh(courses(hatching(angle, 0.25, 0.08, length=1.2))).any()


def test_cross_hatching_is_not():
    crossed = np.vstack((hatching(20, 0.25, 0.08), hatching(95, 0.25, 0.08)))
    assert not is_mesh(courses(crossed)).any()


def test_a_few_short_strokes_are_not():
    assert not is_mesh(courses(tangle(np.random.default_rng(2), 8))).any()


def test_a_stroke_through_a_mesh_stays_a_stroke():
    pieces = tangle(np.random.default_rng(3), 110)
    lines = courses(np.vstack((pieces, [stroke(6, 6, 15, 7.0, 0.1)])))
    mesh = is_mesh(lines)
    assert not mesh[lines.line == 110].any()
    assert mesh[lines.line < 110].mean() > 0.9


def test_turning_of_a_circle_is_its_curvature():
    # A circle of 2 mm turns by 1/2 rad on a millimetre; of n steps n - 1 turns are seen.
    count = 41
    turn = 0.075 * np.arange(count)
    straight = courses(np.array([stroke(6, 6, 0, 0.15 * count, 0.1)]))
    lines = replace(
        straight, points_mm=np.column_stack((2 * np.cos(turn), 2 * np.sin(turn)))[: straight.size]
    )
    steps = len(range(0, straight.size, 3)) - 1
    assert turning_deg_per_mm(lines)[0] == pytest.approx(np.degrees(0.5) * (steps - 1) / steps, rel=0.01)
    assert turning_deg_per_mm(straight)[0] == pytest.approx(0, abs=1e-6)
