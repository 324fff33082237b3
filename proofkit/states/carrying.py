"""New strokes carried on along their own course, through what hatching leaves little light of.

Where a stroke lies in the dark, or on a known line that it meets at a small angle, no ridge is to be found. But a burin
runs on: the course beyond an end is known to some hundredths of a millimetre, and asking there whether light is missing
takes far less than finding a line anywhere.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import uniform_filter1d
from scipy.spatial import cKDTree

from proofkit.arrays import Floats, Points
from proofkit.laying.standard_lines import line_profiles
from proofkit.lines.centrelines import POINT_SPACING_MM
from proofkit.lines.tracing_kernels import spaced
from proofkit.lines.types import LineMap
from proofkit.measures.types import LaidSheet

STRIP_MM = 0.02
"""Half width of the strips in which light is read. [mm]"""

SIDE_MM = 0.12
"""Middle of the strips beside a stroke: beyond a broad one and its blur. [mm]"""

ASIDE_MM = 0.05
"""A stroke leaves the course that its end foretells by at most this over a chunk (choice of ours: half a
stroke). [mm]"""

CHUNK_POINTS = 4
"""A stroke is carried on by so many points at a time (0.6 mm), then its course is foretold anew."""

COURSE_POINTS = 20
"""The course is foretold from so many points (3 mm)."""

FEWEST_BENT = 10
"""From fewer it is foretold straight."""

BLIND_CHUNKS = 5
"""So much may lie in the dark (3 mm) where the stroke is seen again beyond."""

LEAST_SIDE = -0.15
"""Film and ink of two pulls differ by as much (0.06 D); a side with still more light lost a line of its own. [-]"""

LEAST_SHARE = 0.2
"""A stroke that takes a smaller share of the light is not carried on: ink and laying leave 0.15 (simulated
pairs). [-]"""

LEAST_GAIN = 1.5
"""Points of bare paper that would have to lose as much light as the stroke takes, for it to be carried on."""

LARGEST_LOSS = 1.5
"""Points of bare paper that may lack the stroke before it ends."""

TOUCH_MM = 0.06
"""Another new stroke this near is the same one. [mm]"""

MOST_LOOSE = 1000
"""Points that are looked through one by one before they join the tree of places."""

TOUCH_COSINE = 0.96
"""... if it runs in the same direction within 16 degrees."""


@dataclass(frozen=True, slots=True, eq=False)
class _Light:
    """What two sheets say beside each other along a course; (n, m) over its points and places across it."""

    taken: Floats
    """Light that the sheet with more ink lacks. R/Rp"""
    there: Floats
    """Light of the lighter of both. R/Rp"""
    s_mm: Floats


def carried_on(lines: LineMap, more: LaidSheet, less: LaidSheet) -> LineMap:
    """Return strokes carried on beyond both ends as far as the two sheets bear it out.

    Parameters
    ----------
    lines : LineMap
        Strokes that `more` shows and `less` lacks, in plate mm.
    more, less : LaidSheet

    Notes
    -----
    Each point beyond an end speaks by the light that is missing there, less what is missing beside, less half of what
    the stroke itself would take; dark places have little to say. The stroke ends where the sum of this is greatest.
    """
    if not lines.size:
        return lines
    numbers = np.unique(lines.line)
    courses = [lines.points_mm[lines.line == number] for number in numbers]
    contrast = [float(lines.contrast[lines.line == number][0]) for number in numbers]
    drawn = _Drawn(courses)
    for k in range(len(courses)):
        for _ in (0, 1):
            beyond = drawn.up_to_others(_beyond(courses[k], more, less), courses[k][-1], k)
            if len(beyond):
                drawn.add(beyond, courses[k][-1], k)
            courses[k] = np.concatenate((courses[k], beyond))[::-1]
    parts = [spaced(course, POINT_SPACING_MM) for course in courses]
    counts = [len(at) for at, _ in parts]
    lengths = [
        float(np.hypot(*np.diff(course, axis=0).T).sum()) / n
        for course, n in zip(courses, counts, strict=True)
    ]
    return LineMap(
        np.concatenate([at for at, _ in parts]),
        np.concatenate([across for _, across in parts]),
        np.repeat(np.arange(len(parts), dtype=np.int32), counts),
        np.repeat(lengths, counts),
        np.repeat(contrast, counts),
    )


def _beyond(course: Points, more: LaidSheet, less: LaidSheet) -> Points:
    """Return the points that carry a course on beyond its last one, none where nothing is seen there."""
    if len(course) < CHUNK_POINTS:
        return np.empty((0, 2))
    end = course[-COURSE_POINTS:]
    share = _share(_light(end, _normals(end), more, less))
    if share < LEAST_SHARE:
        return np.empty((0, 2))
    whole, gains = course, np.empty(0)
    best, best_at = LEAST_GAIN * share / 2, 0
    while len(gains) < best_at + BLIND_CHUNKS * CHUNK_POINTS:
        ahead = _foretold(whole)
        normals = _normals_after(whole[-1], ahead)
        aside, gain = _best_aside(_light(ahead, normals, more, less), share)
        whole = np.concatenate((whole, ahead + aside * normals))
        gains = np.concatenate((gains, gain))
        total = np.cumsum(gains)
        if total.max() > best:
            best, best_at = float(total.max()), int(np.argmax(total)) + 1
        if total.max(initial=0.0) - total[-1] > LARGEST_LOSS * share / 2:
            break
    return whole[len(course) : len(course) + best_at]


def _foretold(course: Points) -> Points:
    """Return the next points of a course, as bent as its end."""
    end = course[-COURSE_POINTS:]
    t = np.arange(len(end)) - (len(end) - 1.0)
    ahead = np.arange(1, CHUNK_POINTS + 1)
    degree = 2 if len(end) >= FEWEST_BENT else 1
    fitted = [np.polynomial.Polynomial.fit(t, end[:, k], degree)(ahead) for k in (0, 1)]
    return np.column_stack(fitted)


def _best_aside(light: _Light, share: float) -> tuple[float, Floats]:
    """Return how far aside of its foretold course a stroke is seen best, and what each point there says."""
    places = np.arange(-ASIDE_MM, ASIDE_MM + 1e-9, 0.01)
    gains = [_gains(light, place, share) for place in places]
    # Where nothing is seen the foretold course is kept.
    worth = [
        float(gain.sum()) - 0.1 * share * (place / ASIDE_MM) ** 2
        for gain, place in zip(gains, places, strict=True)
    ]
    best = int(np.argmax(worth))
    return float(places[best]), gains[best]


def _gains(light: _Light, place: float, share: float) -> Floats:
    taken, there = _at_strip(light, place)
    return taken - _beside(light, place) * there - share / 2 * there


def _share(light: _Light) -> float:
    """Return the share of the light that a stroke takes along a course."""
    taken, there = _at_strip(light, 0.0)
    return float((taken - _beside(light, 0.0) * there).sum() / max(float(there.sum()), 1e-6))


def _beside(light: _Light, place: float) -> Floats:
    """Return the share of light that is missing beside a course, smoothed along it."""
    sides = []
    for side in (-SIDE_MM, SIDE_MM):
        taken, there = (
            uniform_filter1d(row, 2 * CHUNK_POINTS, mode="nearest") for row in _at_strip(light, place + side)
        )
        sides.append(np.maximum(taken / np.maximum(there, 0.05), LEAST_SIDE))
    return np.asarray(np.mean(sides, axis=0))


def _at_strip(light: _Light, place: float) -> tuple[Floats, Floats]:
    inside = np.abs(light.s_mm - place) <= STRIP_MM
    return light.taken[:, inside].mean(axis=1), light.there[:, inside].mean(axis=1)


def _light(points: Points, normals: Points, more: LaidSheet, less: LaidSheet) -> _Light:
    half = ASIDE_MM + SIDE_MM + 2 * STRIP_MM
    dark, pale = (
        line_profiles(one.scan.plane, one.paper, one.laying, points, normals, half) for one in (more, less)
    )
    b = np.nan_to_num(dark.values.astype(np.float64), nan=1.0)
    # Both scans may have their own resolution: brought to the places of the first.
    a = np.stack(
        [
            np.interp(dark.s_mm, pale.s_mm, row)
            for row in np.nan_to_num(pale.values.astype(np.float64), nan=1.0)
        ]
    )
    return _Light(a - b, np.maximum(np.maximum(a, b), 0.0), dark.s_mm)


def _normals(points: Points) -> Points:
    if len(points) < 2:
        return np.tile((0.0, 1.0), (len(points), 1))
    step = np.gradient(points, axis=0)
    step /= np.maximum(np.hypot(*step.T), 1e-9)[:, None]
    return np.column_stack((-step[:, 1], step[:, 0]))


class _Drawn:
    """All strokes so far, to be looked up by place."""

    def __init__(self, courses: Sequence[Points]) -> None:
        self.points = np.concatenate(courses)
        self.number = np.repeat(np.arange(len(courses)), [len(course) for course in courses])
        self.normals = np.concatenate([_normals(course) for course in courses])
        self.tree = cKDTree(self.points)

    def add(self, beyond: Points, last: Points, number: int) -> None:
        """Add the points by which a stroke was carried on."""
        self.points = np.concatenate((self.points, beyond))
        self.number = np.concatenate((self.number, np.full(len(beyond), number)))
        self.normals = np.concatenate((self.normals, _normals_after(last, beyond)))
        # Points after the tree's are looked through one by one, so that it is not grown for every stroke.
        if len(self.points) - self.tree.n > MOST_LOOSE:
            self.tree = cKDTree(self.points)

    def up_to_others(self, beyond: Points, last: Points, number: int) -> Points:
        """Return the points that follow `last` on a stroke, up to where another one that runs the same way is met."""
        if not len(beyond):
            return beyond
        loose = self.points[self.tree.n :]
        for k, (point, normal) in enumerate(zip(beyond, _normals_after(last, beyond), strict=True)):
            near = np.array(self.tree.query_ball_point(point, TOUCH_MM), dtype=np.intp)
            near_loose = self.tree.n + np.flatnonzero(np.hypot(*(loose - point).T) <= TOUCH_MM)
            at = np.concatenate((near, near_loose))
            at = at[self.number[at] != number]
            if (np.abs(self.normals[at] @ normal) > TOUCH_COSINE).any():
                return beyond[:k]
        return beyond


def _normals_after(last: Points, beyond: Points) -> Points:
    return _normals(np.concatenate((last[None], beyond)))[1:]
