"""A plate frame from corners that somebody read off the scan."""

import numpy as np

from proofkit.arrays import Points
from proofkit.errors import FrameError
from proofkit.frame.types import PlateFrame
from proofkit.quality import Quality
from proofkit.scan.types import Scan
from proofkit.units import px_per_mm

LEAST_SIDE_MM = 10.0
"""No side of a plate is shorter. [mm]"""
U_BY_HAND_MM = 0.1
"""A corner is read off a magnified scan to about this (common practice). [mm]"""
BEVEL_MM = 0.5
"""Band about the mark that may hold bevel ink or shade: nobody measured it, so it is taken wide. [mm]"""
OFF_SQUARE_DEG = 10.0
"""Corners farther than this from square are slips of the hand, not stretch of the paper. [deg]"""


def frame_from_corners(corners_px: Points, scan: Scan) -> PlateFrame:
    """Return the plate frame with the given corners.

    Parameters
    ----------
    corners_px : (4, 2)
        Top left, top right, bottom right, bottom left as the print is seen; x to the right, y down. [px]
        A clockwise round that begins elsewhere belongs to a sheet that lay turned, and is kept. Corners in any other
        order are put right when the first is the scan's top left one.
    scan : Scan

    Returns
    -------
    PlateFrame
        With `Quality.CORNERS_BY_HAND`.

    Raises
    ------
    FrameError
        When the corners lie outside the scan, make no plate, or their order is doubtful; all that is wrong is told.
    """
    corners = np.array(corners_px, dtype=np.float64)
    name = scan.file.path.name
    if corners.shape != (4, 2) or not np.isfinite(corners).all():
        message = (
            f"The plate on {name} has corners of shape {corners.shape}, but 4 pairs of numbers x, y in scan pixels "
            "are needed. Correct pulls.csv."
        )
        raise FrameError(message)
    problems = _outside(corners, scan)
    round_ = _clockwise(corners)
    if _area(corners) <= 0 or not _is_convex(corners):
        if round_[0] == _top_left(corners):
            corners = corners[round_]
        else:
            problems.append("they do not go clockwise, nor begin at the top left")
    problems += _shape_problems(corners, scan)
    if problems:
        message = (
            f"The corners given for {name} make no plate: {'; '.join(problems)}. Give top left, top right, bottom "
            "right, bottom left in pixels of the scan, or leave them out to have the plate mark looked for."
        )
        raise FrameError(message)
    across = (px_per_mm(scan.file.ppi_y), px_per_mm(scan.file.ppi_x))
    u_y, u_x = (U_BY_HAND_MM / np.sqrt(2) * per for per in across)
    return PlateFrame(
        corners,
        ("by hand", "by hand", "by hand", "by hand"),
        (float(u_y), float(u_x), float(u_y), float(u_x)),
        BEVEL_MM * max(across),
        Quality.CORNERS_BY_HAND,
    )


def _outside(corners: Points, scan: Scan) -> list[str]:
    width, height = scan.file.width, scan.file.height
    x, y = corners.T
    out = (x < -0.5) | (x > width - 0.5) | (y < -0.5) | (y > height - 0.5)
    return [
        f"({px:.1f}, {py:.1f}) lies outside the scan of {width} x {height} px"
        for px, py in corners[out].tolist()
    ]


def _clockwise(corners: Points) -> list[int]:
    """Return the order that goes clockwise as seen (y down), the first corner kept first."""
    dx, dy = (corners - corners.mean(axis=0)).T
    order = np.argsort(np.arctan2(dy, dx)).tolist()
    first = order.index(0)
    return [int(k) for k in order[first:] + order[:first]]


def _top_left(corners: Points) -> int:
    return int(np.argmin(corners.sum(axis=1)))


def _area(corners: Points) -> float:
    """Return the signed area, positive for clockwise as seen (y down). [px²]"""
    x, y = corners.T
    return 0.5 * float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def _is_convex(corners: Points) -> bool:
    side = np.roll(corners, -1, axis=0) - corners
    after = np.roll(side, -1, axis=0)
    turns = side[:, 0] * after[:, 1] - side[:, 1] * after[:, 0]
    return bool((turns > 0).all() or (turns < 0).all())


def _shape_problems(corners: Points, scan: Scan) -> list[str]:
    """Return what is wrong with sides and angles."""
    per = np.array([px_per_mm(scan.file.ppi_x), px_per_mm(scan.file.ppi_y)])
    side = (np.roll(corners, -1, axis=0) - corners) / per
    length = np.hypot(*side.T)
    problems = []
    if length.min() < LEAST_SIDE_MM:
        problems.append(f"a side is {length.min():.2f} mm long, at least {LEAST_SIDE_MM:g} mm is allowed")
    if (length == 0).any():
        return problems
    cosine = (side * np.roll(side, -1, axis=0)).sum(axis=1) / (length * np.roll(length, -1))
    worst = float(np.rad2deg(np.arcsin(np.clip(np.abs(cosine), 0, 1))).max())
    if worst > OFF_SQUARE_DEG:
        problems.append(f"a corner is {worst:.1f} degrees off square, at most {OFF_SQUARE_DEG:g} are allowed")
    return problems
