"""The plate mark of a sheet on that of the standard: it holds the warp where no line does."""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Index, Mask, Points
from proofkit.frame.matching import course
from proofkit.frame.types import EdgeKind, EdgeMarks, PlateFrame
from proofkit.laying.types import Laying, to_plate_mm
from proofkit.scatter import robust_sd

REACH_MM = 0.15
"""A mark farther from where it is expected was read on something else: shade and bevel ink lie 0.1 to 0.3 mm off the
edge of the film. [mm]"""

FILM_REACH_MM = 0.5
"""The same where film is seen to begin on both sheets: in open ground nothing else tells where a sheet lies. [mm]"""

STRAY_MM = 0.08
"""A mark that strays more from the parabola through its edge, and by 4 times the usual, is left out; uneven stretch
makes edges wavy by less. [mm]"""

SIDE_MM = 1.0
"""No mark lies farther from the side of the plate that it belongs to. [mm]"""

END_MM = 2.0
"""A mark may lie this far beyond the standard's last one: edges run straight enough for that. [mm]"""

FEWEST = 4
"""Marks that make an edge."""


@dataclass(frozen=True, slots=True, eq=False)
class EdgeCourse:
    """Where the plate mark runs along one side of the standard."""

    along_axis: int
    """0 for top and bottom (along x), 1 for left and right."""
    along_mm: Floats
    """(n,) growing. [mm]"""
    across_mm: Floats
    """(n,) [mm]"""
    kinds: tuple[EdgeKind, ...]
    """(n,) what the mark was found by."""


@dataclass(frozen=True, slots=True, eq=False)
class EdgeOffsets:
    """How far marks of a sheet lie off the standard's, as a laying has them."""

    points_mm: Points
    """(n, 2) on the standard's edges. [mm]"""
    offsets_mm: Floats
    """(n,) across the edge, in plate mm. [mm]"""
    normals: Points
    """(n, 2) unit vectors across."""
    side: Index
    """(n,) number of the edge."""
    alike: Mask
    """(n,) found by the same as the standard's: film, ink of the bevel or shade, which need not lie in one place."""


def edge_courses(frame: PlateFrame | None, laying: Laying) -> tuple[EdgeCourse, ...]:
    """Return where the standard's plate mark runs, from its own frame and laying; () without a mark."""
    courses = []
    for marks in () if frame is None else frame.marks:
        points = to_plate_mm(laying, marks.points_px)
        axis = int(np.ptp(points[:, 1]) > np.ptp(points[:, 0]))
        order = np.argsort(points[:, axis])
        steady = _steady(points[order, axis], points[order, 1 - axis])
        kept = order[steady]
        if len(kept) >= FEWEST:
            kinds = tuple(marks.kinds[k] for k in kept)
            courses.append(EdgeCourse(axis, points[kept, axis], points[kept, 1 - axis], kinds))
    return tuple(courses)


def edge_offsets(frame: PlateFrame, laying: Laying, courses: tuple[EdgeCourse, ...]) -> EdgeOffsets:
    """Return how far the marks of a sheet lie off the standard's.

    Parameters
    ----------
    frame : PlateFrame
        Of the sheet; it may lie turned or mirrored.
    laying : Laying
        Of the sheet, right within `FILM_REACH_MM`.
    courses
        From `edge_courses`.

    Returns
    -------
    EdgeOffsets
        Of the marks that lie along the standard's edges, within reach.
    """
    found = [
        offsets
        for number, marks in enumerate(frame.marks)
        if (offsets := _offsets_of(marks, number, laying, courses)) is not None
    ]
    if not found:
        nothing = np.empty(0)
        pairs = np.empty((0, 2))
        return EdgeOffsets(pairs, nothing, pairs, nothing.astype(np.intp), nothing.astype(np.bool_))
    return EdgeOffsets(
        np.concatenate([f.points_mm for f in found]),
        np.concatenate([f.offsets_mm for f in found]),
        np.concatenate([f.normals for f in found]),
        np.concatenate([f.side for f in found]),
        np.concatenate([f.alike for f in found]),
    )


def _offsets_of(
    marks: EdgeMarks, number: int, laying: Laying, courses: tuple[EdgeCourse, ...]
) -> EdgeOffsets | None:
    """Return the same for one edge of the sheet, None when too few of its marks can be used."""
    here = to_plate_mm(laying, marks.points_px)
    side = _side_of(here, courses)
    if side is None:
        return None
    along, across = here[:, side.along_axis], here[:, 1 - side.along_axis]
    expected = np.interp(along, side.along_mm, side.across_mm)
    nearest = np.abs(along[:, None] - side.along_mm).argmin(axis=1)
    alike = np.array([kind == side.kinds[k] for kind, k in zip(marks.kinds, nearest, strict=True)])
    film = alike & np.array([kind == "tone step" for kind in marks.kinds])
    within = (along > side.along_mm[0] - END_MM) & (along < side.along_mm[-1] + END_MM)
    kept = np.flatnonzero(within & (np.abs(across - expected) < np.where(film, FILM_REACH_MM, REACH_MM)))
    kept = kept[_steady(along[kept], across[kept])]
    if not len(kept):
        return None
    place = np.empty((len(kept), 2))
    place[:, side.along_axis], place[:, 1 - side.along_axis] = along[kept], expected[kept]
    normals = np.tile(np.eye(2)[1 - side.along_axis], (len(kept), 1))
    return EdgeOffsets(place, (across - expected)[kept], normals, np.full(len(kept), number), alike[kept])


def _side_of(points_mm: Points, courses: tuple[EdgeCourse, ...]) -> EdgeCourse | None:
    """Return the side of the standard that marks lie along."""
    axis = int(np.ptp(points_mm[:, 1]) > np.ptp(points_mm[:, 0]))
    middle = float(np.median(points_mm[:, 1 - axis]))
    beside = [c for c in courses if c.along_axis == axis]
    nearest = min(beside, key=lambda c: abs(float(np.median(c.across_mm)) - middle), default=None)
    if nearest is None or abs(float(np.median(nearest.across_mm)) - middle) > SIDE_MM:
        return None
    return nearest


def _steady(along: Floats, across: Floats) -> Mask:
    """Return which marks follow the smooth course of all."""
    if len(along) < FEWEST:
        return np.zeros(len(along), dtype=np.bool_)
    middle, reach = float(along.mean()), max(float(np.ptp(along)) / 2, 1e-6)
    u = (along - middle) / reach
    place = across - np.median(across)
    coefficients, _ = course(u, place, 2)
    off = np.abs(place - np.vander(u, 3, increasing=True) @ coefficients)
    return np.asarray(off < max(STRAY_MM, 4 * robust_sd(off, about=0)))
