"""Choose the four edges that make one plate: parallel, square, evidenced from corner to corner and not beyond."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from itertools import product
from typing import TypeAlias

import numpy as np

from proofkit.arrays import Floats, Points
from proofkit.frame.candidates import Line
from proofkit.frame.edge import Edge
from proofkit.frame.evidence_kernels import best_run, evidence, meeting

PARALLEL = np.tan(np.deg2rad(0.7))
"""Opposite edges differ by less: stretch that changes across the sheet, and bow. [-]"""
SQUARE = np.tan(np.deg2rad(0.9))
"""Neighbouring edges are square within this: shear of damp paper and of scanners stays well below. [-]"""
LEAST_MM = 15.0
"""Plates are not smaller. [mm]"""
COMPLETE = 0.7
"""An edge must show in this part of its blocks. [-]"""
ERRATIC_MM = 0.12
"""Pieces of a mark scatter less about its line than those of a line of handwriting. [mm]"""
PLAIN = 0.012
"""A mark stronger than this can be followed piece by piece. [D]"""
NEARLY_AS_GOOD = 0.25
"""Of rectangles this close in rating the outermost is the plate: rules lie inside the mark, never outside. [-]"""
GOOD_AROUND = 0.9
"""And one that lies around all four sides may be fainter: nothing else goes round a rule or a block of image. [-]"""
NEARLY_WHOLE = 2.6
"""Rating from which three sides alone are trusted. [-]"""
NESTED_MM = 0.7
"""Rectangles farther apart than this on every side are two. [mm]"""
FILM = 0.003
"""A rise of tone of less than this is no film. [D]"""
SMOOTHER = 0.75
"""A lid shows less than this share of the unrest of paper. [-]"""
MARGINS_AGREE = 0.015
"""Bare paper on all sides of the plate is even within this, lamp and all; as much more again costs one side. [D]"""
SIZE_SPREAD = 0.04
"""Sheets stretch and shrink by up to this against the size of the copper (trade notes: 0.5 to 4.5 %). [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """An edge that may be one side of the plate, with what shows along it."""

    edge: Edge
    span_px: tuple[float, float]
    """Stretch along which it was seen."""
    centres_px: Floats
    share: Floats
    """(n,) each, see `edge.presence`."""
    support_px: tuple[float, float]
    """Stretch along which the mark shows: the best run of shares above a half."""


def side_of(edge: Edge, span_px: tuple[float, float], presence: tuple[Floats, Floats]) -> Side:
    """Return an edge as a side, with what shows along it."""
    centres, share = presence
    return Side(edge, span_px, centres, share, best_run(centres, share))


_Shown: TypeAlias = Callable[[int, Side, tuple[Side | None, Side | None]], tuple[float, float]]
_Crossing: TypeAlias = Callable[[Side, Side], tuple[float, float]]


@dataclass(frozen=True, slots=True, eq=False)
class Rectangle:
    """Four sides in the order top, right, bottom, left; None where none was found."""

    sides: tuple[Side | None, Side | None, Side | None, Side | None]
    rating: float
    """One for each complete side, less what goes against it. [-]"""
    size_px: tuple[float, float]
    """Width and height between the sides, NaN when one is missing. [px]"""


def crossing(horizontal: Line, vertical: Line) -> Points:
    """Return where a nearly horizontal line meets a nearly vertical one. (2,) [px]"""
    return np.array(meeting(_numbers(horizontal), _numbers(vertical)))


def _numbers(line: Line) -> tuple[float, float, float, float]:
    return float(line.middle), float(line.place), float(line.slope), float(line.bend)


def choose(
    candidates: tuple[list[Side], list[Side], list[Side], list[Side]],
    px_per_mm: tuple[float, float],
    expected: tuple[tuple[float, float], ...],
    aspect: float | None,
) -> Rectangle | None:
    """Return the best rectangle with two sides or more, None when there is none.

    Parameters
    ----------
    candidates : four lists
        For the top, right, bottom and left side.
    px_per_mm : (float, float)
        Along x and along y. [px/mm]
    expected : tuple of (width, height)
        Sizes that the plate may have, one for each way a sheet may be turned; empty when unknown. [px]
    aspect : float or None
        Width over height in mm, or its inverse, of the plate. [-]
    """

    @cache
    def meets(horizontal: Side, vertical: Side) -> tuple[float, float]:
        return meeting(_numbers(horizontal.edge.line), _numbers(vertical.edge.line))

    @cache
    def shown(k: int, side: Side, neighbours: tuple[Side | None, Side | None]) -> tuple[float, float]:
        ends = _ends(side, neighbours, k, meets)
        return evidence(side.share, side.centres_px, ends, px_per_mm[k % 2])

    found = [
        r
        for combination in product(*((*c, None) for c in candidates))
        if (r := _rate(combination, px_per_mm, expected, aspect, shown)) is not None  # type: ignore[arg-type]
    ]
    if not found:
        return None
    best = max(found, key=lambda r: r.rating)
    alike = [r for r in found if _count(r) == _count(best)]
    chosen = max((r for r in alike if r.rating >= best.rating - NEARLY_AS_GOOD), key=_area)
    around = [r for r in alike if r.rating >= best.rating - GOOD_AROUND and _lies_in(chosen, r, px_per_mm)]
    if _count(chosen) == 4:
        # three sides of the mark about a rectangle of image
        around += [
            r for r in found if _count(r) == 3 and r.rating > NEARLY_WHOLE and _lies_in(chosen, r, px_per_mm)
        ]
    around = [r for r in around if not _is_sheet(r)]
    if around:
        return max(around, key=lambda r: (_count(r), _area(r)))
    within = [r for r in alike if r.rating >= best.rating - NEARLY_AS_GOOD and _lies_in(r, chosen, px_per_mm)]
    return max(within, key=_area) if within and _is_sheet(chosen) else chosen


def _count(r: Rectangle) -> int:
    return sum(side is not None for side in r.sides)


def _area(r: Rectangle) -> float:
    """Return how far out the sides lie; for rectangles that lack the same sides it orders like the area."""
    return sum(-s.edge.inward * s.edge.line.place for s in r.sides if s is not None)


def _is_sheet(r: Rectangle) -> bool:
    """Tell whether a rectangle is the shadow of the sheet's edge on a lid as light as paper.

    No film begins there, and outside it is smoother than paper.
    """
    return all(
        s is None or (abs(s.edge.mark.inside) < FILM and s.edge.unrest[0] < SMOOTHER * s.edge.unrest[1])
        for s in r.sides
    )


def _lies_in(inner: Rectangle, outer: Rectangle, px_per_mm: tuple[float, float]) -> bool:
    """Tell whether all sides of `inner` lie farther in than those that `outer` has."""
    for k, (a, b) in enumerate(zip(inner.sides, outer.sides, strict=True)):
        if b is None:
            continue
        if (
            a is None
            or (a.edge.line.place - b.edge.line.place) * a.edge.inward < NESTED_MM * px_per_mm[1 - k % 2]
        ):
            return False
    return True


def _rate(
    sides: tuple[Side | None, Side | None, Side | None, Side | None],
    px_per_mm: tuple[float, float],
    expected: tuple[tuple[float, float], ...],
    aspect: float | None,
    shown: _Shown,
) -> Rectangle | None:
    """Return the rectangle of four sides with its rating; None when it makes no plate.

    `shown` tells what `evidence` does of side k between two neighbours.
    """
    if sum(s is not None for s in sides) < 2 or not _fits_together(sides):
        return None
    top, right, bottom, left = sides
    height, width = _apart(top, bottom), _apart(left, right)
    if width < LEAST_MM * px_per_mm[0] or height < LEAST_MM * px_per_mm[1]:
        return None
    rating = 0.0
    for k, side in enumerate(sides):
        if side is None:
            continue
        complete, beyond = shown(k, side, (sides[3], sides[1]) if k % 2 == 0 else (sides[0], sides[2]))
        if complete < COMPLETE:
            return None
        rating += complete - 0.7 * beyond - 0.5 * _is_erratic(side.edge)
    margins = [s.edge.outside for s in sides if s is not None]
    rating -= float(np.clip((max(margins) - min(margins)) / MARGINS_AGREE - 1.0, 0.0, 2.0))
    return Rectangle(sides, rating - _misfit(width, height, px_per_mm, expected, aspect), (width, height))


def _fits_together(sides: tuple[Side | None, ...]) -> bool:
    slopes = [None if s is None else s.edge.line.slope for s in sides]
    for a, b in ((0, 2), (1, 3)):
        sa, sb = slopes[a], slopes[b]
        if sa is not None and sb is not None and abs(sa - sb) > PARALLEL:
            return False
    return all(
        sh is None or sv is None or abs(sh + sv) < SQUARE
        for sh, sv in product((slopes[0], slopes[2]), (slopes[1], slopes[3]))
    )


def _apart(first: Side | None, second: Side | None) -> float:
    if first is None or second is None:
        return float("nan")
    slope = 0.5 * (first.edge.line.slope + second.edge.line.slope)
    gap = second.edge.line.place - float(first.edge.line.at(second.edge.line.middle))
    return gap / float(np.hypot(1.0, slope))


def _ends(
    side: Side, neighbours: tuple[Side | None, Side | None], k: int, meets: _Crossing
) -> tuple[float, float]:
    """Return where side `k` meets its neighbours, or where it ceases to show when a neighbour is missing. [px]"""

    def end(neighbour: Side | None, place: float) -> float:
        if neighbour is None:
            return place
        return meets(side, neighbour)[0] if k % 2 == 0 else meets(neighbour, side)[1]

    return end(neighbours[0], side.support_px[0]), end(neighbours[1], side.support_px[1])


def _is_erratic(edge: Edge) -> bool:
    """Tell whether an edge is plain to see, but not straight: writing, or the image."""
    return edge.wander_mm > ERRATIC_MM or (edge.wander_mm == 0.0 and edge.mark.strength > PLAIN)


def _misfit(
    width: float,
    height: float,
    px_per_mm: tuple[float, float],
    expected: tuple[tuple[float, float], ...],
    aspect: float | None,
) -> float:
    """Return what speaks against the size, 0 to 4 (0 when nothing is known)."""
    against = []
    for w, h in expected:
        off = np.array([np.log(width / w), np.log(height / h)]) / SIZE_SPREAD
        against.append(float(np.nansum(np.minimum(off**2, 4.0)) / 2.0))
    if aspect is not None and not expected:
        seen = np.log(width / px_per_mm[0] / (height / px_per_mm[1]))
        off_aspect = min(abs(seen - np.log(aspect)), abs(seen + np.log(aspect))) / SIZE_SPREAD
        against.append(float(np.nan_to_num(min(off_aspect**2, 4.0) / 2.0)))
    return min(against, default=0.0)


def sides_missing(rectangle: Rectangle) -> Iterator[int]:
    """Return the numbers, in the order of `SIDES`, of the sides that were not found."""
    return (k for k, side in enumerate(rectangle.sides) if side is None)
