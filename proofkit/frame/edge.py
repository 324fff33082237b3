"""Follow one candidate line at full resolution: what is on it, exactly where, and how far it reaches."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from proofkit.arrays import Floats
from proofkit.frame.candidates import Line
from proofkit.frame.matching import (
    WAVE_ORDER,
    WINDOW_MM,
    course,
    fit,
    matched,
    shifts_of,
    turn,
    wave_of,
)
from proofkit.frame.medians import median, median_profile
from proofkit.frame.pieces import (
    PIECE_MM,
    Pieces,
    View,
    bounds_of,
    mark_on,
    marks_by_number,
    move,
    read,
    scatter_of,
)
from proofkit.frame.profile import Mark
from proofkit.frame.types import EdgeKind

PRESENCE_MM, PRESENCE_COLUMNS = 0.8, 8
"""The same when only asked how far a mark reaches [mm], and columns that are then read of each piece at most."""
COARSE_PIECES = 100
COARSE_COLUMNS = 12
"""When choosing among candidates, so many pieces are read at most, and so many columns of each."""
SEARCH_MM = 1.2
"""How far a candidate may lie from the mark: shade and film seen from afar draw it outward. [mm]"""
REACH_MM = 2.5
"""Profiles reach so far to both sides at first. [mm]"""
NEAR_MM = 2.0
"""And so far once the mark is found, which is then looked for within `NEAR_SEARCH_MM`. [mm]"""
NEAR_SEARCH_MM = 0.6
TURN_MM = 0.5
"""A candidate's ends may be off by this much: its slant comes from strips. [mm]"""
BLOCK = 5
"""Pieces that are read as one when the mark changes along an edge."""
MOST_BLOCKS = 30
BLOCK_SCATTER_MM = 0.15
"""Marks of blocks that scatter more are not trusted. [mm]"""
CLEAR_PX = 0.5
"""And neither are those that are less certain each. [px]"""
FAINT_PX = 1.0
"""Pieces whose place is less certain cannot be followed one by one, only all together. [px]"""
DRIFT_MM = 0.3
"""Matching may move a line by this from where it was first laid. [mm]"""


@dataclass(frozen=True, slots=True)
class MarkPlace:
    """Where the mark lies on one block of an edge."""

    along_px: float
    across_px: float
    kind: EdgeKind


@dataclass(frozen=True, slots=True, eq=False)
class Edge:
    """A candidate that was followed and found to carry something."""

    line: Line
    inward: int
    """1 when the plate lies toward growing rows, else -1."""
    mark: Mark
    outside: float
    """Level of the paper just outside, above rough paper. [D]"""
    unrest: tuple[float, float]
    """Scatter of pieces outside and inside the mark: a scanner's lid has none of paper's grain. [D]"""
    wander_mm: float
    """Scatter of its pieces about the line; 0 when they are too faint to tell. [mm]"""
    u_px: float
    """Standard uncertainty of the line's place. [px]"""
    marks: tuple[MarkPlace, ...] = ()
    """The mark on block after block, where it could be read."""


def follow(view: View, line: Line, inward: int, span_px: tuple[float, float]) -> Edge | None:
    """Return a straight edge near a candidate line, or None when there is none; few columns are read.

    Parameters
    ----------
    view : View
    line : Line
        Where to look.
    inward : int
        1 when the plate lies toward growing rows, else -1.
    span_px : (float, float)
        Stretch along which the edge was seen.
    """
    length_mm = (span_px[1] - span_px[0]) / view.along
    bounds = bounds_of(view, span_px, max(PIECE_MM, length_mm / COARSE_PIECES))
    step = max(1, int((bounds[1] - bounds[0]) // COARSE_COLUMNS))
    pieces = read(view, line, inward, bounds, (REACH_MM, SEARCH_MM), step)
    if pieces is None:
        return None
    line = turn(line, pieces, inward, TURN_MM * view.across)
    edge = None
    for reach, search in ((REACH_MM, SEARCH_MM), (NEAR_MM, NEAR_SEARCH_MM)):
        along = read(view, line, inward, bounds, (reach, search), step)
        edge = None if along is None else _improve(view, line, inward, along, (search, 1))
        if edge is None:
            return None
        line = edge.line
    return edge


def refine(view: View, edge: Edge, span_px: tuple[float, float]) -> Edge | None:
    """Return the edge between its corners from every column, with its bow; None when it cannot be followed."""
    bounds = bounds_of(view, span_px)
    pieces = read(view, edge.line, edge.inward, bounds, (NEAR_MM, NEAR_SEARCH_MM), 1)
    found = None if pieces is None else _improve(view, edge.line, edge.inward, pieces, (NEAR_SEARCH_MM, 2))
    if found is None:
        return None
    if np.abs(found.line.at(bounds) - edge.line.at(bounds)).max() > DRIFT_MM * view.across:
        # pieces that change along the edge cannot be matched with each other
        found = replace(found, line=edge.line)
    return _by_blocks(view, _by_blocks(view, found, bounds), bounds)


def _by_blocks(view: View, edge: Edge, bounds: Floats) -> Edge:
    """Return the edge laid through marks read on block after block, or as it was when too few can be read.

    Film changes along an edge, from a step to a mere line of ink: then pieces do not look like the median of all.
    """
    pieces = read(view, edge.line, edge.inward, bounds, (NEAR_MM, NEAR_SEARCH_MM), 1)
    if pieces is None:
        return edge
    marks = []
    blocks = marks_by_number(pieces, max(BLOCK, len(pieces.density) // MOST_BLOCKS), NEAR_SEARCH_MM)
    for along, mark in blocks:
        if mark is not None and mark.u_mm * view.across < CLEAR_PX:
            across = float(edge.line.at(along)) + edge.inward * mark.place_mm * view.across
            marks.append(MarkPlace(along, across, mark.kind))
    edge = replace(edge, marks=tuple(marks))
    if len(marks) < max(6, 0.5 * len(blocks)):
        return edge
    line, scatter = through(edge, marks)
    kinds = [m.kind for m in marks]
    u_px = scatter / np.sqrt(len(marks) - 3)
    if scatter > BLOCK_SCATTER_MM * view.across or u_px > 2.0 * max(edge.u_px, 0.3):
        return edge
    # of kinds that are as frequent the first that is met, so that every run says the same
    return replace(edge, line=line, mark=replace(edge.mark, kind=max(kinds, key=kinds.count)), u_px=u_px)


def through(edge: Edge, marks: Sequence[MarkPlace]) -> tuple[Line, float]:
    """Return the edge's line laid through marks, and their scatter about it. [px]"""
    d = np.array([m.along_px for m in marks]) - edge.line.middle
    places = edge.inward * (np.array([m.across_px for m in marks]) - edge.line.at(d + edge.line.middle))
    reach = max(np.abs(d))
    coefficients, scatter = course(d / reach, places, 2)
    change = edge.inward * coefficients / reach ** np.arange(3)
    old = edge.line
    return Line(old.middle, old.place + change[0], old.slope + change[1], old.bend + change[2]), scatter


def presence(view: View, edge: Edge, span_px: tuple[float, float]) -> tuple[Floats, Floats]:
    """Return how much of the mark is found along the whole length of the scan.

    Parameters
    ----------
    view : View
    edge : Edge
    span_px : (float, float)
        Stretch whose median profile serves as the pattern.

    Returns
    -------
    centres, share : (n,), (n,)
        Middle of each piece [px]; projection of its profile on the pattern, 0 nothing, 1 as in the span, cut to
        -1 .. 2, NaN outside the scan.
    """
    bounds = bounds_of(view, (-0.5, view.plane.shape[1] - 0.5), PRESENCE_MM)
    step = max(1, int((bounds[1] - bounds[0]) // PRESENCE_COLUMNS))
    centres = 0.5 * (bounds[1:] + bounds[:-1])
    share = np.full(len(centres), np.nan)
    pieces = read(view, edge.line, edge.inward, bounds, (NEAR_MM, NEAR_SEARCH_MM), step)
    if pieces is None:
        return centres, share
    near = pieces.density[:, np.abs(pieces.t_mm) <= WINDOW_MM]
    own = (pieces.centres_px >= span_px[0]) & (pieces.centres_px <= span_px[1])
    if own.sum() >= 4:
        pattern = median_profile(near[own])
        share[pieces.whole] = np.clip(near @ pattern / max(float(pattern @ pattern), 1e-12), -1.0, 2.0)
    return centres, share


def _improve(
    view: View, line: Line, inward: int, pieces: Pieces, search_order: tuple[float, int]
) -> Edge | None:
    """Find the mark on the median profile of pieces read along a line, and lay the line through the pieces, once."""
    search_mm, order = search_order
    mark, middle = mark_on(pieces, search_mm)
    if mark is None:
        return None
    d = pieces.centres_px - line.middle
    shifts, error_px = shifts_of(pieces, middle, mark)
    followable = len(d) > 3 * WAVE_ORDER and error_px < FAINT_PX
    if followable:
        waves = np.zeros_like(d)
        for _ in range(order):
            # uneven stretch makes the edge wavy: laid straight first, the mean profile is as sharp as the scan
            waves += wave_of(d, matched(move(pieces, waves), middle, mark, view.across))
            straight, mean = mark_on(move(pieces, waves), search_mm)
            if straight is None:
                break
            mark, middle = straight, mean
        shifts = waves + shifts_of(move(pieces, waves), middle, mark)[0]
    change, scatter = fit(d, shifts, order, view.across)
    place = line.place + inward * (mark.place_mm * view.across + change[0])
    moved = Line(line.middle, place, line.slope + inward * change[1], line.bend + inward * change[2])
    u_line = scatter / np.sqrt(max(1, len(shifts) - 1 - order))
    u_px = float(np.hypot(u_line, mark.u_mm * view.across))
    place_mm = mark.place_mm
    unrest = (
        scatter_of(pieces, middle, place_mm - 1.2, place_mm - 0.5),
        scatter_of(pieces, middle, place_mm + 0.5, place_mm + 1.2),
    )
    wander_mm = scatter / view.across if followable else 0.0
    return Edge(moved, inward, mark, median(pieces.outside), unrest, wander_mm, u_px)
