"""Pieces of lines that run on in each other."""

import numpy as np

from proofkit.arrays import Points
from proofkit.lines.centrelines import POINT_SPACING_MM
from proofkit.lines.tracing_kernels import spaced
from proofkit.lines.types import LineMap

TURN_DEG = 20.0
"""Pieces run on in each other when their ends point at each other within this angle. [deg]"""


def linked(lines: LineMap, gap_mm: float) -> LineMap:
    """Return pieces that run on in each other as one line each, with points over the breaks.

    Parameters
    ----------
    lines : LineMap
    gap_mm : float
        Widest break. [mm]
    """
    rest = [lines.points_mm[lines.line == number] for number in range(int(lines.line.max(initial=-1)) + 1)]
    strength = [float(lines.contrast[lines.line == number][0]) for number in range(len(rest))]
    made: list[tuple[Points, float]] = []
    while rest:
        one, contrast = rest.pop(), strength.pop()
        k = 0
        while k < len(rest):
            points = chained(one, rest[k], gap_mm) if _ends_near(one, rest[k], gap_mm) else None
            if points is None:
                k += 1
                continue
            one, contrast = points, (contrast + strength.pop(k)) / 2
            del rest[k]
            k = 0
        made.append((one, contrast))
    if not made:
        return lines
    parts = [spaced(points, POINT_SPACING_MM) for points, _ in made]
    counts = [len(at) for at, _ in parts]
    lengths = [
        float(np.hypot(*np.diff(points, axis=0).T).sum()) / n
        for (points, _), n in zip(made, counts, strict=True)
    ]
    return LineMap(
        np.concatenate([at for at, _ in parts]),
        np.concatenate([across for _, across in parts]),
        np.repeat(np.arange(len(made), dtype=np.int32), counts),
        np.repeat(lengths, counts),
        np.repeat([contrast for _, contrast in made], counts),
    )


def _ends_near(one: Points, other: Points, gap_mm: float) -> bool:
    return min(float(np.hypot(*(a - b))) for a in (one[0], one[-1]) for b in (other[0], other[-1])) <= gap_mm


def chained(one: Points, other: Points, gap_mm: float) -> Points | None:
    """Return both courses end to end when an end of one runs on in an end of the other."""
    for a in (one, one[::-1]):
        for b in (other, other[::-1]):
            step = b[0] - a[-1]
            gap = float(np.hypot(*step))
            if gap > gap_mm:
                continue
            heading, onward = _heading(a, last=True), _heading(b, last=False)
            least = np.cos(np.deg2rad(TURN_DEG))
            runs_on = gap < 0.1 or float(heading @ step) / gap > least
            if float(heading @ onward) > least and runs_on:
                return np.vstack((a, b))
    return None


def _heading(points: Points, *, last: bool) -> Points:
    part = points[-5:] if last else points[:5]
    step = part[-1] - part[0]
    return np.asarray(step / max(float(np.hypot(*step)), 1e-9))
