"""Means of linear light over square blocks of a scan, those that may be bare paper."""

from dataclasses import dataclass

import cv2
import numpy as np

from proofkit.arrays import FULL_SCALE, Floats, Mask, Plane, Points
from proofkit.reflectance.kernels import block_moments
from proofkit.reflectance.sheet import find_sheet
from proofkit.scan.types import Scan
from proofkit.threads import each_in_order

BLOCKS_LONG_SIDE = 700
"""Blocks along the long side of a scan: 0.6 mm on an A3 sheet, so that a margin of 3 mm still holds some."""

BLOCK_MIN_PX = 8
"""Smallest side of a block: 64 pixels bring grain of 1 % down to 0.1 %. [px]"""

ROWS_OF_A_SHARE = 64
"""Rows of blocks that one thread looks at before another may take the next."""

BLOCKS_FOR_GRAIN = 4000
"""About so many blocks of the plate tell its least grain, which is held against the margin's by factors of 3 and 5."""

_LIT = 0.5
"""Blocks of the plate whose grain is looked at have this share of its light tones at least. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """Blocks of a scan; levels only where bare paper may be."""

    log_level: Floats
    """(rows, columns), NaN where not wanted."""
    relative_sd: Floats
    """(rows, columns) of pixels in a block."""
    rgb: Floats
    """(rows, columns, 3) mean linear RGB."""
    distance_px: Floats
    """(rows, columns) from the plate mark outwards."""
    least_grain: float
    """Relative standard deviation of pixels in the flattest blocks of the plate: paper, or film on paper."""
    uv: Floats
    """(rows, columns, 2) place of the centre from the middle of the plate, `scale_px` = 1."""
    side_px: int
    centre_px: Points
    """(2,) middle of the plate."""
    scale_px: float
    """Mean distance of the corners from it."""

    @property
    def spacing(self) -> float:
        """Distance of neighbouring blocks in the units of `uv`."""
        return self.side_px / self.scale_px


def margin_blocks(scan: Scan, corners: Points, clearance_px: float) -> Blocks:
    """Return blocks with levels outside the plate mark and its clearance; corners (4, 2) in order round it. [px]"""
    side, places = _places(scan)
    distance = _distance_outside(corners, places)
    return _blocks(scan, (side, places), corners, distance, distance > clearance_px + 0.71 * side)


def sheet_blocks(scan: Scan) -> tuple[Blocks, Points]:
    """Return blocks with levels all over the sheet, for a print without a plate mark, and the corners of the sheet."""
    side, places = _places(scan)
    sheet = find_sheet(scan)
    at = np.minimum((places / scan.overview_step).astype(np.intp), np.array(sheet.shape[::-1]) - 1)
    wanted = sheet[at[..., 1], at[..., 0]]
    rows, columns = (np.flatnonzero(sheet.any(axis=axis)) for axis in (1, 0))
    x0, x1, y0, y1 = (
        v * float(scan.overview_step) for v in (columns[0], columns[-1] + 1, rows[0], rows[-1] + 1)
    )
    corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    return _blocks(scan, (side, places), corners, np.zeros(wanted.shape), wanted), corners


def _places(scan: Scan) -> tuple[int, Floats]:
    """Return the side of a block and the (rows, columns, 2) centres of those that lie wholly in the scan. [px]"""
    step = scan.overview_step
    height, width = scan.plane.shape
    side = step * max(-(-BLOCK_MIN_PX // step), round(max(height, width) / BLOCKS_LONG_SIDE / step), 1)
    x = (np.arange(width // side) + 0.5) * side - 0.5
    y = (np.arange(height // side) + 0.5) * side - 0.5
    return side, np.stack(np.broadcast_arrays(x[None, :], y[:, None]), axis=-1)


def _blocks(scan: Scan, at: tuple[int, Floats], corners: Points, distance: Floats, wanted: Mask) -> Blocks:
    """Return the blocks at what `_places` says, with their distance from the mark and levels where wanted."""
    side, places = at
    mean, deviation = _moments(scan.plane, wanted, side)
    with np.errstate(divide="ignore", invalid="ignore"):
        log_level = np.log(mean / FULL_SCALE)
        relative = deviation / mean
    log_level[~np.isfinite(log_level)] = np.nan
    factor = side // scan.overview_step
    rows, columns = wanted.shape
    overview = scan.overview[: rows * factor, : columns * factor]
    rgb = cv2.resize(overview, (columns, rows), interpolation=cv2.INTER_AREA)
    centre = corners.mean(axis=0)
    scale = float(np.linalg.norm(corners - centre, axis=1).mean())
    return Blocks(
        log_level=log_level,
        relative_sd=relative,
        rgb=np.asarray(rgb, dtype=np.float64),
        distance_px=distance,
        least_grain=_least_grain(scan, distance, side),
        uv=(places - centre) / scale,
        side_px=side,
        centre_px=centre,
        scale_px=scale,
    )


def _moments(plane: Plane, wanted: Mask, side: int) -> tuple[Floats, Floats]:
    """Return mean and standard deviation of the pixels of the blocks wanted, shared between threads by rows."""

    def part(rows: tuple[int, int]) -> tuple[Floats, Floats]:
        first, last = rows
        return block_moments(plane[first * side : last * side], wanted[first:last], side)

    shares = [(first, first + ROWS_OF_A_SHARE) for first in range(0, len(wanted), ROWS_OF_A_SHARE)]
    means, deviations = zip(*each_in_order(part, shares), strict=True)
    return np.concatenate(means), np.concatenate(deviations)


def _distance_outside(corners: Points, places: Floats) -> Floats:
    """Return how far places lie outside a convex outline, negative inside. [px]"""
    edges = np.roll(corners, -1, axis=0) - corners
    x, y = corners.T
    turn = np.sign(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    outward = turn * np.column_stack((edges[:, 1], -edges[:, 0])) / np.linalg.norm(edges, axis=1)[:, None]
    distance = np.full(places.shape[:-1], -np.inf)
    for (x, y), own in zip(
        outward, np.sum(corners * outward, axis=1), strict=True
    ):  # one at a time: they are large
        np.maximum(distance, places[..., 0] * x + places[..., 1] * y - own, out=distance)
    return distance


def _least_grain(scan: Scan, distance_px: Floats, side: int) -> float:
    """Return the grain of the flattest blocks of the plate; one in a few each way is looked at."""
    inside = distance_px < -side
    apart = max(2, int(np.sqrt(inside.sum() / BLOCKS_FOR_GRAIN)))
    some = np.zeros_like(inside)
    some[::apart, ::apart] = inside[::apart, ::apart]
    inside = some
    mean, deviation = block_moments(scan.plane, inside, side)
    if not inside.any():
        return np.inf
    lit = inside & (mean > _LIT * np.percentile(mean[inside], 90))
    return float(np.percentile(deviation[lit] / mean[lit], 5)) if lit.any() else np.inf
