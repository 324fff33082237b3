"""Strokes of a difference against the lines of the base: what runs along one of them is that line cut again."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.ndimage import binary_dilation

from proofkit.arrays import Floats, Index, Mask
from proofkit.lines.types import LineMap
from proofkit.measures.types import LaidSheet
from proofkit.states.lines import in_known, nearest_alike

DRIFT_MM = 0.03
"""A stroke that runs over a known line leaves it by more than this within the stretch that lies on it; a recut stroke
wanders by less (choice of ours). [mm]"""

DRIFT_SLOPE = 0.03
"""... and steadily, by at least this: two degrees. [-]"""

FEWEST_ALONG = 3
"""A shorter touch says nothing of its direction."""

GAP_POINTS = 6
"""A stroke that leaves a known line and is back on it within so many points (0.9 mm) runs along it."""

FREE_POINTS = 8
"""A stroke that was seen for so long (1.2 mm) before it meets a known line is one beyond it too."""

CENTRE_MM = 0.03
"""A stroke further from the middle of a known line lies on one side of it. [mm]"""

MIDDLE_MM = 0.01
"""A ridge this near to the middle of a known line is one of both sides. [mm]"""

BOTH_SIDES = 0.4
"""A line that was cut again shows ridges on the other side along more than this share (choice of ours). [-]"""

AHEAD_POINTS = 10
"""A known line is looked at so far beyond a stroke that lies on it (1.5 mm)."""

UNCHANGED = 0.3
"""... and did not change if ridges lie on less than this share of it (choice of ours). [-]"""

LEAST_CONTRAST = 0.1
"""Fainter ridges of the difference are what ink and laying leave (simulated pairs). [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class ChangedSides:
    """Where ridges of a difference lie on known lines; (n,) over the points of these."""

    left: Mask
    """On the side to which the normal points, or in the middle."""
    right: Mask


def is_along(
    lines: LineMap,
    known: LineMap,
    sheet: LaidSheet,
    least_slope: float = DRIFT_SLOPE,
    changed: ChangedSides | None = None,
) -> Mask:
    """Return which points of `lines` run along a line of `known` or inside it, not over it at a small angle.

    Parameters
    ----------
    lines, known : LineMap
    sheet : LaidSheet
        On which a known line may print broader.
    least_slope : float, default DRIFT_SLOPE
        How steadily a stroke leaves a line that it runs over. [-]
    changed : ChangedSides, optional
        Of all ridges: a stroke from free ground may then lie on a line that did not change.
    """
    same = _on_known(lines, known, sheet)
    on = same >= 0
    if not on.any():
        return on
    starts = np.flatnonzero(np.diff(lines.line, prepend=-1))
    along = on.copy()
    for start, stop in zip(starts, [*starts[1:], lines.size], strict=True):
        stroke = slice(start, stop)
        owner = _without_gaps(np.where(on[stroke], known.line[same[stroke]], -1))
        runs = np.split(np.arange(stop - start), np.flatnonzero(np.diff(owner)) + 1)
        for k, run in enumerate(runs):
            if owner[run[0]] < 0:
                continue
            is_part = len(run) < stop - start
            over = is_part and _runs_over(start + run, same, lines, known, least_slope)
            if not over and changed is not None and _comes_from_the_free(k, runs, owner):
                over = _is_laid_over(start + run, same, lines, known, changed)
            along[start + run] = not over
    return along


def _comes_from_the_free(k: int, runs: Sequence[Index], owner: Index) -> bool:
    """Return whether a stretch of a stroke on a known line follows, or is followed by, a long one on none."""
    beside = [runs[at] for at in (k - 1, k + 1) if 0 <= at < len(runs)]
    return any(owner[run[0]] < 0 and len(run) >= FREE_POINTS for run in beside)


def _is_laid_over(run: Index, same: Index, lines: LineMap, known: LineMap, changed: ChangedSides) -> bool:
    """Return whether a known line is as it was but for the stroke that lies on it.

    A line that was cut again is broader on both sides, and from end to end: where it goes on beyond the stretch that
    the stroke lies on and shows nothing there, it was not.
    """
    on = run[same[run] >= 0]
    at = same[on]
    if len(at) < FEWEST_ALONG:
        return False
    away = float(_away(lines, on, known, at).mean())
    other = changed.left if away < 0 else changed.right
    if abs(away) > CENTRE_MM and other[at].mean() > BOTH_SIDES:
        return False
    low, high = int(at.min()), int(at.max())
    ahead = np.arange(3, 3 + AHEAD_POINTS)
    said = [
        _changed_share(low - ahead, low, known, changed),
        _changed_share(high + ahead, high, known, changed),
    ]
    shares = [share for share in said if share is not None]
    return bool(shares) and max(shares) < UNCHANGED


def _changed_share(at: Index, last: int, known: LineMap, changed: ChangedSides) -> float | None:
    """Return on which share of some points beyond `last` a known line changed; None where it ends."""
    at = at[(at >= 0) & (at < known.size)]
    at = at[known.line[at] == known.line[last]]
    return None if len(at) < AHEAD_POINTS // 2 else float((changed.left | changed.right)[at].mean())


def changed_sides(found: LineMap, known: LineMap, sheet: LaidSheet) -> ChangedSides:
    """Return on which side of known lines the ridges of a difference lie."""
    same = _on_known(found, known, sheet)
    on = np.flatnonzero((same >= 0) & (found.contrast > LEAST_CONTRAST))
    away = _away(found, on, known, same[on])
    sides = []
    for there in (away > -MIDDLE_MM, away < MIDDLE_MM):
        marked = np.zeros(known.size, dtype=np.bool_)
        marked[same[on][there]] = True
        # Points of the two lines lie as far apart, but not beside each other.
        sides.append(binary_dilation(marked))
    return ChangedSides(*sides)


def _away(lines: LineMap, at: Index, known: LineMap, other: Index) -> Floats:
    """Return how far points of lines lie to the left of points of known ones. [mm]"""
    return np.asarray(((lines.points_mm[at] - known.points_mm[other]) * known.normals[other]).sum(axis=1))


def _on_known(lines: LineMap, known: LineMap, sheet: LaidSheet) -> Index:
    """Return for each point a point of the known line that it lies on or in; -1 for none."""
    same = nearest_alike(lines, known)
    return np.asarray(np.where(same >= 0, same, in_known(lines, known, sheet)))


def _without_gaps(owner: Index) -> Index:
    """Return the known line of each point with short gaps closed, where a stroke comes back to the line it left."""
    closed = owner.copy()
    on = np.flatnonzero(owner >= 0)
    for a, b in pairwise(on):
        if b - a <= GAP_POINTS and owner[a] == owner[b]:
            closed[a:b] = owner[a]
    return closed


def _runs_over(run: Index, same: Index, lines: LineMap, known: LineMap, least_slope: float) -> bool:
    """Return whether a stretch of a stroke crosses the known line that it lies on."""
    place = np.cumsum(lines.length_mm[run])
    on = same[run] >= 0
    if on.sum() < FEWEST_ALONG:
        return False
    nearest = same[run][on]
    away = ((lines.points_mm[run[on]] - known.points_mm[nearest]) * known.normals[nearest]).sum(axis=1)
    slope = float(np.polyfit(place[on] - place[on].mean(), away, 1)[0])
    return abs(slope) > least_slope and abs(slope) * float(np.ptp(place[on])) > DRIFT_MM
