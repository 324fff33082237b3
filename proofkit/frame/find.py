"""Find the plate mark on a scan."""

import numpy as np

from proofkit.arrays import FULL_SCALE, Floats
from proofkit.errors import FrameError
from proofkit.frame.candidates import Line
from proofkit.frame.edge import Edge, refine
from proofkit.frame.film_course import on_film
from proofkit.frame.following import find_rectangle
from proofkit.frame.pieces import View
from proofkit.frame.rectangle import Rectangle, Side, crossing, sides_missing
from proofkit.frame.strips import cut_strips
from proofkit.frame.types import SIDES, EdgeKind, EdgeMarks, PlateFrame
from proofkit.quality import Quality
from proofkit.scan.types import Scan
from proofkit.threads import each_in_order
from proofkit.units import px_per_mm

STRETCH_SPREAD = 0.01
"""Stretch of a sheet against the copper, when only the size of the copper is known (common practice). [-]"""
UNEVEN_SPREAD = 0.004
"""Difference of stretch between the two directions of a sheet (common practice: 0 to 0.5 %). [-]"""
END_MM = 1.0
"""Uncertainty of a side placed where its neighbours cease to show. [mm]"""
BEVEL_LEAST_MM = 0.3
"""The band about the mark that is kept out of measures is never narrower. [mm]"""
CORNER_MM = 2.5
"""Corners of a plate are rounded off within this (common practice: up to 2 mm). [mm]"""


def find_frame(
    scan: Scan,
    *,
    rough_paper: float,
    aspect: float | None = None,
    size_px: tuple[float, float] | None = None,
    like_px: tuple[float, float] | None = None,
) -> PlateFrame:
    """Return the plate mark of a scan.

    Parameters
    ----------
    scan : Scan
        Upright within about 2 degrees, or turned by a multiple of 90 degrees more; corners are named as the scan lies.
    rough_paper : float
        Level of bare paper, scanner white = 1; 5 % off does no harm. [-]
    aspect : float, optional
        Width over height of the plate, when known. [-]
    size_px : (float, float), optional
        Width and height of the plate in this scan's pixels before any stretch, when known. [px]
    like_px : (float, float), optional
        Width and height of another print of the plate in this scan's pixels, or about the plate's: lines that lie
        otherwise are followed only where these make no whole mark. [px]

    Returns
    -------
    PlateFrame
        With `Quality.PART_OF_PLATE_MARK` when one or two sides were placed from the size of the plate or from where
        the other sides end.

    Raises
    ------
    FrameError
        When no plate mark was found, or a missing side cannot be placed.

    Notes
    -----
    The place of an edge is the half-way point of a tone step; else the middle of the line of bevel ink, or of the
    light and dark pair of embossing (its edge toward the plate when there is one band only). These can lie apart by
    part of the bevel's width, 0.1 to 0.3 mm, so sheets are best compared when `kinds` agree. `u_edges_px` holds
    the random part only.

    Sides are looked for by summing what departs from quiet paper along slanted lines over the whole sheet, which
    finds film far below the paper's grain; the four that agree as a rectangle, that show from corner to corner and
    stop there, and that lie outermost, are followed at full resolution.
    """
    if not 0.05 < rough_paper <= 1.5:
        message = (
            f"The level of bare paper is {rough_paper:.3f} of the scanner's white, but 0.05 to 1.5 is possible. "
            "Check the tone curve of the scan."
        )
        raise FrameError(message)
    per = (px_per_mm(scan.file.ppi_x), px_per_mm(scan.file.ppi_y))
    paper = rough_paper * FULL_SCALE
    views = (View(scan.plane, per[1], per[0], paper), View(scan.plane.T, per[0], per[1], paper))
    strips = cut_strips(scan.plane, rough_paper, per)
    expected = () if size_px is None else (size_px, _turned(size_px, per))
    like = expected if like_px is None else (like_px, _turned(like_px, per))
    rectangle = find_rectangle(views, strips, expected, aspect, like)
    if rectangle is None:
        message = (
            f"No plate mark was found on {scan.file.path.name}. Give its corners in pulls.csv, "
            "or let the sheet be laid by its line work alone."
        )
        raise FrameError(message)
    return _frame(rectangle, views, expected, scan)


def _turned(size_px: tuple[float, float], per: tuple[float, float]) -> tuple[float, float]:
    return size_px[1] / per[1] * per[0], size_px[0] / per[0] * per[1]


def _frame(
    rectangle: Rectangle, views: tuple[View, View], expected: tuple[tuple[float, float], ...], scan: Scan
) -> PlateFrame:
    """Refine the sides between their corners, place what is missing, and put the frame together."""
    edges: list[Edge | None] = [None if s is None else s.edge for s in rectangle.sides]
    lines, uncertainties = _all_lines(rectangle, views, expected, scan)
    corners = _corners(lines)

    def refined(k: int) -> Edge | None:
        edge = edges[k]
        if edge is None:
            return None
        ends = sorted((float(corners[k][k % 2]), float(corners[(k + 1) % 4][k % 2])))
        trim = min(CORNER_MM * views[k % 2].along, 0.1 * (ends[1] - ends[0]))
        span = (ends[0] + trim, ends[1] - trim)
        better = refine(views[k % 2], edge, span)
        return edge if better is None else on_film(views[k % 2], better, span)

    edges = each_in_order(refined, range(4))
    for k, edge in enumerate(edges):
        if edge is not None:
            lines[k], uncertainties[k] = edge.line, edge.u_px
    kinds: list[EdgeKind] = ["not found" if e is None else e.mark.kind for e in edges]
    missing = [k for k in range(4) if edges[k] is None]
    top, right, bottom, left = kinds
    u_top, u_right, u_bottom, u_left = uncertainties
    return PlateFrame(
        _corners(lines),
        (top, right, bottom, left),
        (u_top, u_right, u_bottom, u_left),
        _bevel_width_px(edges, views),
        Quality.PART_OF_PLATE_MARK if missing else Quality.NONE,
        tuple(_marks(e, k) for k, e in enumerate(edges) if e is not None and e.marks),
    )


def _marks(edge: Edge, k: int) -> EdgeMarks:
    """Return where the mark of side `k` was read, in pixels of the scan."""
    points = np.array([(m.along_px, m.across_px) for m in edge.marks])
    return EdgeMarks(points if k % 2 == 0 else points[:, ::-1].copy(), tuple(m.kind for m in edge.marks))


def _corners(lines: list[Line]) -> Floats:
    top, right, bottom, left = lines
    pairs = ((top, left), (top, right), (bottom, right), (bottom, left))
    return np.array([crossing(h, v) for h, v in pairs])


def _bevel_width_px(edges: list[Edge | None], views: tuple[View, View]) -> float:
    """Return the widest band that bevel ink, shade or blur take up about the sides, 0.3 mm at least. [px]"""
    widths = [
        max(sum(e.mark.reach_mm), BEVEL_LEAST_MM) * views[k % 2].across
        for k, e in enumerate(edges)
        if e is not None
    ]
    return max(widths)


def _all_lines(
    rectangle: Rectangle, views: tuple[View, View], expected: tuple[tuple[float, float], ...], scan: Scan
) -> tuple[list[Line], list[float]]:
    """Return a line for each side, missing ones placed, and the uncertainty of each. [px]"""
    lines: list[Line | None] = [None if s is None else s.edge.line for s in rectangle.sides]
    uncertainties = [float("nan")] * 4
    for k in sides_missing(rectangle):
        placed = _from_size(rectangle, k, expected) or _from_ends(rectangle, k, views)
        if placed is None:
            message = (
                f"The {SIDES[k]} edge of the plate mark was not found on {scan.file.path.name}, and nothing says where "
                "it must be. Give plate_width_mm and plate_height_mm in edition.toml, or the corners in pulls.csv."
            )
            raise FrameError(message)
        lines[k], uncertainties[k] = placed
    return [line for line in lines if line is not None], uncertainties


def _from_size(
    rectangle: Rectangle, k: int, expected: tuple[tuple[float, float], ...]
) -> tuple[Line, float] | None:
    """Place side `k` opposite to its counterpart, as far away as the plate is wide or high."""
    opposite = rectangle.sides[(k + 2) % 4]
    if opposite is None or not expected:
        return None
    own, other = (1, 0) if k % 2 == 0 else (0, 1)
    known = rectangle.size_px[other]
    size = expected[0]
    if np.isfinite(known):
        size = min(expected, key=lambda s: abs(np.log(known / s[other])))
        stretch, spread = known / size[other], UNEVEN_SPREAD
    else:
        stretch, spread = 1.0, STRETCH_SPREAD
    edge = opposite.edge
    distance = size[own] * stretch
    slant = float(np.hypot(1.0, edge.line.slope))
    line = Line(edge.line.middle, edge.line.place + edge.inward * distance * slant, edge.line.slope)
    return line, float(np.hypot(spread * distance, edge.u_px))


def _stops(side: Side, end: float, inward: int, reach_px: float) -> bool:
    """Tell whether the mark of a side stops at `end`: all there until 3 reaches before, gone within 3 after."""
    beyond = (end - side.centres_px) * inward / reach_px
    before = side.share[(beyond < -0.5) & (beyond > -3.5)]
    after = side.share[(beyond > 0.5) & (beyond < 3.5)]
    return bool(before.size and after.size and np.nanmean(before) > 0.7 and np.nanmean(after) < 0.25)


def _from_ends(rectangle: Rectangle, k: int, views: tuple[View, View]) -> tuple[Line, float] | None:
    """Place side `k` where its neighbours cease to show, unless they fade out or run out of the scan."""
    view = views[k % 2]
    first = k in (0, 3)
    ends, slopes = [], []
    for neighbour in (rectangle.sides[(k + 1) % 4], rectangle.sides[(k + 3) % 4]):
        if neighbour is None:
            continue
        end = neighbour.support_px[0 if first else 1]
        if not _stops(neighbour, end, 1 if first else -1, END_MM * view.across):
            continue
        if 2.0 * view.across < end < view.plane.shape[0] - 1 - 2.0 * view.across:
            ends.append((float(neighbour.edge.line.at(end)), end))
            slopes.append(-neighbour.edge.line.slope)
    if not ends:
        return None
    along, across = np.mean(ends, axis=0)
    u_px = END_MM * view.across / np.sqrt(len(ends))
    return Line(float(along), float(across), float(np.mean(slopes))), float(u_px)
