import cv2
import numpy as np
import pytest

from proofkit.laying.rectify import Box
from proofkit.laying.standard_lines import StandardLines
from proofkit.lines.crossings import Spans
from proofkit.lines.types import LineMap
from proofkit.measures.ground import lines_mask


def wandering_lines(seed):
    """Forty lines of one to thirty points, 0.15 mm apart, whose width changes here and there along them."""
    draw = np.random.default_rng(seed)
    parts = []
    for _ in range(40):
        count = int(draw.integers(1, 31))
        angle = draw.uniform(0, 2 * np.pi) + np.cumsum(draw.normal(0, 0.1, count))
        steps = 0.15 * np.column_stack((np.cos(angle), np.sin(angle)))
        parts.append(draw.uniform(0, 20, 2) + np.cumsum(steps, axis=0))
    counts = [len(part) for part in parts]
    points, n = np.vstack(parts), sum(counts)
    nothing = np.zeros(n)
    lines = LineMap(points, np.tile((0.0, 1.0), (n, 1)), np.repeat(np.arange(40), counts), nothing, nothing)
    width = np.where(draw.random(n) < 0.2, 0.3, 0.08)
    spans = Spans(width, nothing, nothing, nothing, nothing)
    return StandardLines(lines, spans, lines.normals, nothing > 0, nothing, nothing, nothing)


@pytest.mark.parametrize("beyond_mm", [0.0, 0.05, 0.4])
@pytest.mark.parametrize("pitch_mm", [0.0423, 0.2])
def test_lines_drawn_in_courses_cover_what_their_points_one_by_one_do(beyond_mm, pitch_mm):
    lines = wandering_lines(8)
    box = Box(2.0, 3.0, int(14 / pitch_mm), int(12 / pitch_mm), pitch_mm)
    single = np.zeros((box.rows, box.columns), np.uint8)
    at = np.rint((lines.lines.points_mm - (2.0, 3.0)) / pitch_mm * 16).astype(int)
    number = lines.lines.line
    for i, (point, width) in enumerate(zip(at, lines.spans.width_mm, strict=True)):
        goes_on = i + 1 < len(at) and number[i + 1] == number[i]
        thickness = max(int(np.ceil(2 * (width / 2 + beyond_mm) / pitch_mm)), 1)
        cv2.line(single, point.tolist(), at[i + goes_on].tolist(), 1, thickness, cv2.LINE_8, 4)
    mask = lines_mask(lines, box, beyond_mm)
    assert 0 < np.count_nonzero(mask) < mask.size
    assert np.array_equal(mask, single > 0)


def test_without_lines_nothing_is_covered():
    lines = wandering_lines(8)
    box = Box(200.0, 300.0, 50, 40, 0.1)
    assert not lines_mask(lines, box, 0.1).any()
