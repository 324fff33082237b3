"""Lay a followed edge where film begins along all of it."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from proofkit.frame.edge import BLOCK, NEAR_MM, NEAR_SEARCH_MM, Edge, MarkPlace, through
from proofkit.frame.film_edge import FilmEdge, film_edge
from proofkit.frame.piece_kernels import block_medians
from proofkit.frame.pieces import View, bounds_of, middles_of, noise_of_profiles, read

MOST_STRETCHES = 60
"""Where film begins along a whole edge is told from so many profiles at most."""
FEWEST_MARKS = 4
"""Marks of blocks that make a course."""
ALIKE_MM = 0.012
"""Steps that scatter more about their course were not all read on one thing. [mm]"""
ON_LINE = 0.35
"""Film begins on such steps when they make this share of it; soft scans of plain film show half. [-]"""
MOST_U_MM = 0.02
"""Blocks on which the film's edge is less certain are left out. [mm]"""
AGAIN_MM = 0.2
"""A course that lies farther from the line that was followed is read once more, along itself. [mm]"""


def on_film(view: View, edge: Edge, span_px: tuple[float, float]) -> Edge:
    """Return the edge laid where film begins along all of it, when its blocks were read on a band or disagree.

    Parameters
    ----------
    view : View
    edge : Edge
        As refined.
    span_px : (float, float)
        Stretch between its corners.

    Returns
    -------
    Edge
        As it was when it is a line of bevel ink, or lies on the film's edge already. Where no course of film is found
        and blocks disagree, steps seen on single ones are called shade.
    """
    if edge.mark.kind == "bevel line":
        return edge
    told = _film_on(view, edge, span_px)
    if _agrees(view, edge) and (told is None or told[0].line_share > ON_LINE):
        return edge
    laid = None if told is None else _laid(view, edge, *told)
    if laid is None or told is None:
        return replace(edge, marks=_doubted(edge.marks))
    if np.abs(told[0].course_mm).max() > AGAIN_MM:
        again = _film_on(view, laid, span_px)
        laid = (again and _laid(view, laid, *again)) or laid
    return laid


def _film_on(view: View, edge: Edge, span_px: tuple[float, float]) -> tuple[FilmEdge, list[float]] | None:
    """Return the course of film near an edge and the middles of its stretches along it [px]; None without one."""
    pieces = read(view, edge.line, edge.inward, bounds_of(view, span_px), (NEAR_MM, NEAR_SEARCH_MM), 1)
    if pieces is None:
        return None
    size = -(-len(pieces.density) // MOST_STRETCHES)
    along, profiles = middles_of(pieces, size), block_medians(pieces.density, size)
    lever = np.array(along) - edge.line.middle
    noise = noise_of_profiles(profiles, pieces.paper)
    found = film_edge(profiles, noise, pieces.t_mm, lever / np.abs(lever).max(), max(1, BLOCK // size))
    return None if found is None else (found, along)


def _laid(view: View, edge: Edge, found: FilmEdge, along_px: Sequence[float]) -> Edge | None:
    """Return the edge laid through the film's edge; None when too few of its blocks are certain."""
    marks = tuple(
        _mark_at(view, edge, float(np.mean(along_px[part])), float(place))
        for part, place, u in zip(found.members, found.places_mm, found.u_mm, strict=True)
        if u < MOST_U_MM
    )
    if len(marks) < FEWEST_MARKS:
        return None
    line, scatter = through(edge, marks)
    u_px = scatter / np.sqrt(max(len(marks) - 3, 1))
    return replace(edge, line=line, marks=marks, mark=replace(edge.mark, kind="tone step"), u_px=u_px)


def _doubted(marks: Sequence[MarkPlace]) -> tuple[MarkPlace, ...]:
    """Return the marks with steps called shade: without a course of film, a step on one block may be anything's."""
    return tuple(replace(m, kind="emboss shade") if m.kind == "tone step" else m for m in marks)


def _agrees(view: View, edge: Edge) -> bool:
    """Tell whether steps were seen on all blocks, on one course."""
    if len(edge.marks) < FEWEST_MARKS or any(m.kind != "tone step" for m in edge.marks):
        return False
    return through(edge, edge.marks)[1] <= ALIKE_MM * view.across


def _mark_at(view: View, edge: Edge, along_px: float, inward_mm: float) -> MarkPlace:
    """Return the film's edge so far inward of the line that was followed."""
    across = float(edge.line.at(along_px)) + edge.inward * inward_mm * view.across
    return MarkPlace(along_px, across, "tone step")
