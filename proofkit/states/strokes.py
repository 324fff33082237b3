"""Stretches of line -> strokes: what runs on is joined, and what looks like accident is set apart."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from proofkit.arrays import Points
from proofkit.lines.linking import chained
from proofkit.states.types import Change

GAP_MM = 0.6
"""Two stretches whose ends lie this near and point at each other are one stroke: a line or two that cross. [mm]"""

JOIN_MM = 0.9
"""... where both are known to have changed alike: a broad line that crosses at ten degrees. [mm]"""

TOGETHER_MM = 2.0
"""Pieces too short to be told alone that run on in each other are a stroke when so much of it is seen: fibres and
tears in the film do not fall into a row (choice of ours, held to pairs of one state in simulated sheets). [mm]"""

STEP_MM = 0.15
"""Points over the break lie this far apart, as those of lines do. [mm]"""

SCRATCH_MM = 2.5
"""Shortest scratch that is told from a short stroke. [mm]"""

STRAIGHT_MM = 0.02
"""A scratch leaves its chord by no more than this: grit under a card runs dead straight, a hand does not. [mm]"""

PARALLEL_DEG = 3.0
"""Scratches of one slip of the hand run parallel within this angle. [deg]"""

NEAR_MM = 8.0
"""... and no further apart than a thumb. [mm]"""

THIN_SHARE = 0.6
"""A scratch carries less ink than this share of the plate's usual line. [-]"""


def joined_strokes(changes: Sequence[Change]) -> list[Change]:
    """Return changes with stretches of one kind joined where they run on, over the lines that cross them."""
    rest = list(changes)
    done: list[Change] = []
    while rest:
        one = rest.pop()
        found = True
        while found:
            found = False
            for k, other in enumerate(rest):
                if other.kind != one.kind or other.doubt != one.doubt:
                    continue
                points = chained(one.points_mm, other.points_mm, JOIN_MM)
                if points is not None:
                    one, found = _merged(one, other, points), True
                    del rest[k]
                    break
        done.append(one)
    return done


def with_pieces(strokes: Sequence[Change], pieces: Sequence[Change]) -> list[Change]:
    """Return changed strokes and, of pieces too short to be told alone, those that run on in one of their kind.

    Pieces that run on in each other are a stroke of their own where they are long enough together.
    """
    kept, rest = [*strokes, *_rows_of_pieces(pieces)], list(pieces)
    rest = [piece for piece in rest if not any(_is_part(piece, row) for row in kept)]
    grows = True
    while grows:
        on = [
            piece for piece in rest
            if any(
                stroke.kind == piece.kind and chained(stroke.points_mm, piece.points_mm, JOIN_MM) is not None
                for stroke in kept
            )
        ]  # fmt: skip
        kept += on
        rest = [piece for piece in rest if not any(piece is one for one in on)]
        grows = bool(on)
    return kept


def _rows_of_pieces(pieces: Sequence[Change]) -> list[Change]:
    """Return the rows of pieces that point at each other and of which enough is seen."""
    rows = joined_strokes([one for one in pieces if one.kind in {"added", "removed"}])
    return [
        row for row in rows
        if sum(one.length_mm for one in pieces if one.kind == row.kind and _is_part(one, row)) >= TOGETHER_MM
    ]  # fmt: skip


def _is_part(one: Change, row: Change) -> bool:
    return bool((row.points_mm == one.points_mm[0]).all(axis=1).any())


def _merged(one: Change, other: Change, points: Points) -> Change:
    share = one.length_mm / (one.length_mm + other.length_mm)
    course, gap_mm = _over_the_break(points)
    return replace(
        one,
        points_mm=course,
        length_mm=one.length_mm + other.length_mm + gap_mm,
        width_mm=share * one.width_mm + (1 - share) * other.width_mm,
        load_before_um=share * one.load_before_um + (1 - share) * other.load_before_um,
        load_after_um=share * one.load_after_um + (1 - share) * other.load_after_um,
    )


def _over_the_break(points: Points) -> tuple[Points, float]:
    """Return a course with points over its longest step, and how much longer than a usual step that is. [mm]"""
    step = np.hypot(*np.diff(points, axis=0).T)
    k = int(np.argmax(step))
    count = round(float(step[k]) / STEP_MM)
    if count < 2:
        return points, 0.0
    between = np.linspace(points[k], points[k + 1], count + 1)[1:-1]
    return np.insert(points, k + 1, between, axis=0), float(step[k]) - STEP_MM


def with_scratches(changes: Sequence[Change], usual_load_um: float) -> list[Change]:
    """Return changes in which added lines that look like accidental scratches are called so.

    Parameters
    ----------
    changes : sequence of Change
    usual_load_um : float
        Median load of the base's lines. [µm]

    Notes
    -----
    Scratches are thin, straight and come in parallel sets (common practice); ruled work can look the same, so they
    are set apart, not left out.
    """
    thin = [
        k for k, one in enumerate(changes)
        if one.kind == "added" and one.length_mm > SCRATCH_MM and _leaves_chord_mm(one.points_mm) < STRAIGHT_MM
        and one.load_after_um < THIN_SHARE * usual_load_um
    ]  # fmt: skip
    result = list(changes)
    for k in thin:
        if any(_is_beside(changes[k].points_mm, changes[other].points_mm) for other in thin if other != k):
            result[k] = replace(changes[k], kind="scratch")
    return result


def _leaves_chord_mm(points: Points) -> float:
    """Return how far a course leaves its own best straight line, 90th percentile. [mm]"""
    centred = points - points.mean(axis=0)
    normal = np.linalg.svd(centred, full_matrices=False)[2][1]
    return float(np.percentile(np.abs(centred @ normal), 90))


def _is_beside(one: Points, other: Points) -> bool:
    a, b = one[-1] - one[0], other[-1] - other[0]
    lengths = float(np.hypot(*a) * np.hypot(*b))
    sine = abs(float(a[0] * b[1] - a[1] * b[0])) / max(lengths, 1e-9)
    near = float(np.min(np.hypot(*(other - one.mean(axis=0)).T)))
    return sine < np.sin(np.deg2rad(PARALLEL_DEG)) and near < NEAR_MM
