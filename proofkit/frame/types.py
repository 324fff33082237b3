"""The plate mark on a scan: four corners with what each edge was found by."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from proofkit.arrays import Floats, Points
from proofkit.quality import Quality

EdgeKind = Literal["tone step", "bevel line", "emboss shade", "by hand", "not found"]

SIDES = ("top", "right", "bottom", "left")


@dataclass(frozen=True, slots=True, eq=False)
class EdgeMarks:
    """Places at which the mark was read along one edge."""

    points_px: Points
    """(n, 2)."""
    kinds: tuple[EdgeKind, ...]
    """(n,) what each was found by."""


@dataclass(frozen=True, slots=True, eq=False)
class PlateFrame:
    """The plate mark in scan pixels.

    Corners go clockwise as the print is seen: top left, top right, bottom right, bottom left. Plate mm run x to the
    right and y down from the top left corner. For a plate 100 mm wide and 80 mm high whose mark was found at
    corners (50, 60), (2412, 60), (2412, 1950), (50, 1950), the plate point (50.0, 40.0) lies at (1231, 1005).
    """

    corners_px: Points
    """(4, 2) corners."""
    kinds: tuple[EdgeKind, EdgeKind, EdgeKind, EdgeKind]
    """What each edge was found by, in the order of `SIDES`."""
    u_edges_px: tuple[float, float, float, float]
    """Standard uncertainty of the place of each edge. [px]"""
    bevel_width_px: float
    """Width of the band around the mark that holds bevel ink or emboss shade. [px]"""
    quality: Quality = Quality.NONE
    marks: tuple[EdgeMarks, ...] = ()
    """Where the mark was read along the edges that were found, in the order of `SIDES`."""


def to_px(frame: PlateFrame, points_mm: Points, width_mm: float, height_mm: float) -> Points:
    """Return scan pixels of plate points, bilinear between the four corners.

    Parameters
    ----------
    frame : PlateFrame
        Corners in the scan. [px]
    points_mm : Points
        (n, 2) plate points. [mm]
    width_mm, height_mm : float
        Size of the plate in the millimetres of `points_mm`. [mm]

    Returns
    -------
    Points
        (n, 2) in the scan. [px]

    Examples
    --------
    >>> corners = np.array([[50.0, 60], [2412, 60], [2412, 1950], [50, 1950]])
    >>> frame = PlateFrame(corners, ("by hand",) * 4, (0.5,) * 4, 20.0)
    >>> to_px(frame, np.array([[50.0, 40.0]]), 100.0, 80.0).tolist()
    [[1231.0, 1005.0]]
    """
    u = points_mm[:, 0:1] / width_mm
    v = points_mm[:, 1:2] / height_mm
    tl, tr, br, bl = frame.corners_px
    return np.asarray((1 - u) * (1 - v) * tl + u * (1 - v) * tr + u * v * br + (1 - u) * v * bl)


def side_lengths_px(frame: PlateFrame) -> Floats:
    """Return the lengths of the top, right, bottom and left edge. [px]"""
    corners = frame.corners_px
    return np.asarray(np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1))
