"""Follow the lines that may be sides of the plate, those first that lie as far apart as the plate is large."""

from collections.abc import Iterable, Sequence
from functools import cache

import numpy as np

from proofkit.frame.candidates import Candidate, find_candidates
from proofkit.frame.edge import SEARCH_MM, Edge, follow, presence
from proofkit.frame.pieces import View
from proofkit.frame.rectangle import SMOOTHER, Rectangle, Side, choose, side_of, sides_missing
from proofkit.frame.strips import Strips
from proofkit.threads import each_in_order

BED = 0.02
"""Outside farther from the paper level than inside by this is no margin but the scanner's bed. [D]"""
LIKE_PAPER = 0.004
"""So is a smooth outside that is farther by this. [D]"""
SAME_MM = 0.3
"""Edges nearer to each other than this are one. [mm]"""
STRETCH = 0.08
"""Prints of one plate differ in size by less (common practice: up to 5.5 %). [-]"""

Sizes = Sequence[tuple[float, float]]
"""Widths and heights that a plate may have, one for each way a sheet may be turned."""
FourSides = tuple[list[Side], list[Side], list[Side], list[Side]]


def find_rectangle(
    views: tuple[View, View],
    strips: tuple[Strips, Strips],
    expected_px: tuple[tuple[float, float], ...],
    aspect: float | None,
    like_px: Sizes,
) -> Rectangle | None:
    """Return the plate mark, None when there is none.

    Parameters
    ----------
    views, strips : two each
        For the horizontal and for the vertical edges.
    expected_px, aspect
        See `rectangle.choose`.
    like_px : sequence of (width, height)
        Sizes of other prints of the plate, or of the plate; empty when unknown. When four sides of about one of these
        sizes are found, no other lines are followed. [px]
    """

    def found(k: int) -> list[Candidate]:
        return find_candidates(strips[k % 2], from_end=k in {1, 2})

    lines = each_in_order(found, range(4))

    @cache
    def side(k: int, number: int) -> Side | None:
        return _side(views[k % 2], lines[k][number], 1 if k in {0, 3} else -1)

    def chosen(numbers: Sequence[Iterable[int]]) -> Rectangle | None:
        def distinct(k: int) -> list[Side]:
            return _distinct((side(k, number) for number in numbers[k]), views[k % 2])

        top, right, bottom, left = each_in_order(distinct, range(4))
        per = views[1].across, views[0].across
        return choose((top, right, bottom, left), per, expected_px, aspect)

    likely = likely_lines(lines, like_px, SEARCH_MM * max(views[0].across, views[1].across))
    if all(likely):
        rectangle = chosen(likely)
        if rectangle is not None and not any(True for _ in sides_missing(rectangle)):
            return rectangle
    return chosen([range(len(family)) for family in lines])


def likely_lines(lines: Sequence[Sequence[Candidate]], sizes: Sizes, off_px: float) -> list[list[int]]:
    """Return which lines of each side have one across, in all but `STRETCH` as far away as one of the sizes says.

    Lines are for top, right, bottom and left; the marks may lie `off_px` beside them.
    """
    likely: list[set[int]] = [set() for _ in range(4)]
    for width, height in sizes:
        upright = _pairs(lines[0], lines[2], height, off_px)
        across = _pairs(lines[3], lines[1], width, off_px)
        if not upright or not across:
            continue
        for k, pairs, end in ((0, upright, 0), (2, upright, 1), (3, across, 0), (1, across, 1)):
            likely[k].update(pair[end] for pair in pairs)
    return [sorted(numbers) for numbers in likely]


def _pairs(
    firsts: Sequence[Candidate], lasts: Sequence[Candidate], size: float, off_px: float
) -> list[tuple[int, int]]:
    """Return the numbers of lines that lie a size apart, halfway along them."""
    return [
        (i, j)
        for i, first in enumerate(firsts)
        for j, last in enumerate(lasts)
        if abs(float(last.line.place - first.line.place) - size) < STRETCH * size + 2 * off_px
    ]


def _side(view: View, candidate: Candidate, inward: int) -> Side | None:
    """Return a line that was followed, with what shows along it; None when nothing is there but a sheet's edge."""
    span = candidate.start_px, candidate.end_px
    edge = follow(view, candidate.line, inward, span)
    if edge is None or _is_sheet_edge(edge):
        return None
    return side_of(edge, span, presence(view, edge, span))


def _distinct(sides: Iterable[Side | None], view: View) -> list[Side]:
    """Return the sides that were found, without doubles of earlier ones."""
    kept: list[Side] = []
    for side in sides:
        if side is not None and not any(_is_same(side.edge, other.edge, view) for other in kept):
            kept.append(side)
    return kept


def _is_sheet_edge(edge: Edge) -> bool:
    """Tell whether the scanner's bed lies outside: off the level that the paper inside has, and smooth or far off.

    Emboss shade reaches outside too, but keeps the paper's grain.
    """
    off = abs(edge.outside) - abs(edge.outside + edge.mark.inside)
    return off > BED or (off > LIKE_PAPER and edge.unrest[0] < SMOOTHER * edge.unrest[1])


def _is_same(a: Edge, b: Edge, view: View) -> bool:
    return bool(np.abs(a.line.place - b.line.at(a.line.middle)) < SAME_MM * view.across)
