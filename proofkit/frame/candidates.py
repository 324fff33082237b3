"""Straight lines along the sheet that may be an edge of the plate, found by stacking strips at every slant."""

from dataclasses import dataclass, replace

import numpy as np

from proofkit.arrays import Floats
from proofkit.frame.kernels import best_runs
from proofkit.frame.strips import Strips, onset_evidence, slopes_to_try

TURN_DEG = 3.2
"""Sheets are laid by hand within about 2 degrees; stretch and shear add a little. [deg]"""
FLOOR = 0.3
"""Evidence below this counts against a line; an even margin gives about 0.05. [-]"""
SHORTEST_MM = 15.0
"""An edge shorter than this is not looked for. [mm]"""
APART_MM = 0.7
"""Two candidates nearer than this are one. [mm]"""
MOST = 6
"""Candidates kept for each side."""


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A nearly straight line across one family: `along` is x for top and bottom, y for left and right.

    ``across = place + slope * (along - middle) + bend * (along - middle)**2``.
    """

    middle: float
    """[px]"""
    place: float
    """[px]"""
    slope: float
    """[px/px]"""
    bend: float = 0.0
    """[1/px]"""

    def at(self, along: Floats | float) -> Floats:
        """Return the place across. [px]"""
        d = np.asarray(along, dtype=np.float64) - self.middle
        return np.asarray(self.place + self.slope * d + self.bend * d * d)


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A line with the stretch along which it was seen."""

    line: Line
    start_px: float
    end_px: float
    score: float
    """Evidence along the line. [strips]"""


def find_candidates(strips: Strips, *, from_end: bool) -> list[Candidate]:
    """Return lines where bare paper gives way to the plate, the best first.

    Parameters
    ----------
    strips : Strips
    from_end : bool
        True for the bottom and right edges: the plate is entered with falling offset.
    """
    density = strips.density[:, ::-1] if from_end else strips.density
    length_px = density.shape[1] * strips.across_px
    seen, evidence = onset_evidence(replace(strips, density=np.ascontiguousarray(density)))
    count, size = evidence.shape
    if not evidence.size:
        return []
    score, slope, span = best_runs(evidence, slopes_to_try(seen, count, TURN_DEG), FLOOR)
    least = 0.5 * (1 - FLOOR) * SHORTEST_MM / seen.across_mm * seen.across_px / seen.strip_px
    apart = max(1, round(APART_MM / seen.across_mm))
    found: list[Candidate] = []
    left = score.copy()
    for _ in range(4 * MOST):
        if len(found) == MOST or left.max() < least:
            break
        peak = int(left.argmax())
        near = np.arange(max(0, peak - apart), min(size, peak + apart + 1))
        level = near[score[near] >= 0.95 * score[peak]]
        place = float(level.mean())
        slant = float(slope[level].mean()) * seen.across_px / seen.strip_px
        start, end = float(span[level, 0].mean()), float(span[level, 1].mean())
        left[near] = 0.0
        across = (place + 0.5) * seen.across_px - 0.5
        if from_end:
            across, slant = length_px - 1 - across, -slant
        middle = 0.5 * count * seen.strip_px - 0.5
        line = Line(middle, across, slant)
        new = Candidate(line, start * seen.strip_px, (end + 1) * seen.strip_px, float(score[peak]))
        if not any(_touch(new, other, apart * seen.across_px) for other in found):
            found.append(new)
    return found


def _touch(a: Candidate, b: Candidate, apart_px: float) -> bool:
    """Tell whether two lines cross or come near each other where both were seen."""
    start, end = max(a.start_px, b.start_px), min(a.end_px, b.end_px)
    if start >= end:
        return False
    gaps = a.line.at(np.array([start, end])) - b.line.at(np.array([start, end]))
    return bool(gaps[0] * gaps[1] <= 0 or np.abs(gaps).min() < 2 * apart_px)
