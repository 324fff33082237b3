"""Where the standard has unworked ground: away from its lines, and close to them."""

import cv2
import numpy as np

from proofkit.arrays import Floats, Index, Mask, Numbers, Picture
from proofkit.folder.edition import Work
from proofkit.laying.rectify import Box
from proofkit.laying.standard_lines import StandardLines
from proofkit.measures.block_kernels import block_shares

FAR_SIGMAS = 3.5
"""Ground is far when it lies this many blur sigmas from a line's edge: its tail is under 0.03 %."""

FAR_MM = 0.04
"""... and this much more, for the ragged edge of a line. [mm]"""

HALO_MM = 0.12
"""Width of the band beyond that in which a halo is looked for. [mm]"""

BURR_MM = 0.45
"""In drypoint, far ground begins here: burr holds ink up to 0.1-0.5 mm from its furrow (common practice). [mm]"""

BEVEL_MM = 1.2
"""A border along the plate mark that may hold bevel ink or emboss shade. [mm]"""

MARK_RATIO = 0.06
"""A place of the standard that leaves its ground by this share is a faint line, a speck or a scratch. [-]"""


def lines_mask(lines: StandardLines, box: Box, beyond_mm: float) -> Mask:
    """Return the cells of a box within half a line's width plus `beyond_mm` of a centreline."""
    mask = np.zeros((box.rows, box.columns), dtype=np.uint8)
    xy = (lines.lines.points_mm - (box.x0_mm, box.y0_mm)) / box.pitch_mm
    reach = (lines.spans.width_mm / 2 + beyond_mm) / box.pitch_mm
    close = (
        (
            (xy[:, 0] > -reach.max() - 4)
            & (xy[:, 1] > -reach.max() - 4)
            & (xy[:, 0] < box.columns + reach.max() + 4)
            & (xy[:, 1] < box.rows + reach.max() + 4)
        )
        if len(xy)
        else np.zeros(0, dtype=np.bool_)
    )
    courses = _courses(np.flatnonzero(close), lines.lines.line, np.maximum(np.ceil(2 * reach), 1))
    at = np.rint(xy * 16).astype(np.int32)
    for thickness, parts in courses.items():
        cv2.polylines(mask, [at[part] for part in parts], False, 1, thickness, cv2.LINE_8, 4)  # noqa: FBT003
    return mask.astype(np.bool_)


def _courses(index: Index, number: Numbers, thickness: Floats) -> dict[int, list[Index]]:
    """Return the courses of points to draw by their thickness.

    Each of the points `index` is drawn with its own thickness up to the next point of its line; points that follow each
    other at one thickness make one course. The last point of a line is a dot.
    """
    found: dict[int, list[Index]] = {}
    apart = (np.diff(index) > 1) | (np.diff(number[index]) != 0) | (np.diff(thickness[index]) != 0)
    for run in np.split(index, np.flatnonzero(apart) + 1) if len(index) else ():
        last = run[-1]
        goes_on = last + 1 < len(number) and number[last + 1] == number[last]
        course = np.append(run, last + 1 if goes_on else last)
        found.setdefault(int(thickness[run[0]]), []).append(course)
    return found


def local_mean(picture: Picture, known: Mask, sigma_cells: float, blocks: int = 4) -> Picture:
    """Return the mean of the known cells around each cell, weighted by a Gaussian; NaN where none is near.

    It is made of `blocks` blocks to a standard deviation, and linear between them: 4 add 1 % to it, 2 add 3 %.
    """
    step = max(int(sigma_cells / blocks), 1)
    weight, total = block_shares(
        picture, known, max(picture.shape[0] // step, 1), max(picture.shape[1] // step, 1)
    )
    mean = blurred_ratio(total, weight, sigma_cells / step)
    return np.asarray(cv2.resize(mean, picture.shape[::-1], interpolation=cv2.INTER_LINEAR))


def blurred_ratio(total: Picture, weight: Picture, sigma: float) -> Picture:
    """Return the mean of known cells around each block, weighted by a Gaussian; NaN where none is near.

    `total` and `weight` (rows, columns) are sums and numbers of known cells over the area of a block; `sigma` is in
    blocks.
    """
    weight, total = (
        np.asarray(cv2.GaussianBlur(part, (0, 0), sigma, borderType=cv2.BORDER_ISOLATED), dtype=np.float32)
        for part in (weight, total)
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(weight > 0.01, total / weight, np.nan).astype(np.float32)


def _marks(picture: Picture, ground: Mask, pitch_mm: float) -> Mask:
    """Return the places of the ground that leave their surroundings on the standard, with a border of 0.15 mm."""
    smooth = local_mean(picture, ground, 0.08 / pitch_mm)
    level = local_mean(picture, ground, 1.5 / pitch_mm)
    stray = ground & (np.abs(smooth / level - 1) > MARK_RATIO)
    reach = 2 * max(round(0.15 / pitch_mm), 1) + 1
    return cv2.dilate(stray.astype(np.uint8), np.ones((reach, reach), dtype=np.uint8)) > 0


def ground_masks(
    lines: StandardLines,
    picture: Picture,
    inside: Mask,
    box: Box,
    work: Work,
    *,
    blur_mm: float,
    plate_mm: tuple[float, float],
) -> tuple[Mask, Mask]:
    """Return the cells of far and of near ground of a region.

    Parameters
    ----------
    lines : StandardLines
    picture : Picture
        R/Rp of the region's cells on the standard.
    inside : Mask
        Cells inside the outline.
    box : Box
    work : Work
        Kind of work of the region.
    blur_mm : float
        Of the standard's scan. [mm]
    plate_mm : tuple
        Width and height of the plate. [mm]
    """
    edge = FAR_SIGMAS * blur_mm + FAR_MM
    x = box.x0_mm + np.arange(box.columns) * box.pitch_mm
    y = box.y0_mm + np.arange(box.rows) * box.pitch_mm
    off_bevel_x = (x > BEVEL_MM) & (x < plate_mm[0] - BEVEL_MM)
    off_bevel_y = (y > BEVEL_MM) & (y < plate_mm[1] - BEVEL_MM)
    usable = inside & off_bevel_y[:, None] & off_bevel_x[None, :] & np.isfinite(picture)
    beside = usable & ~lines_mask(lines, box, edge)
    beyond = usable & ~lines_mask(lines, box, BURR_MM if work == "drypoint" else edge + HALO_MM)
    near = beside & ~beyond
    # Open stretches are far; where hatching leaves none, the ground beside the lines has to serve.
    far = beyond if work == "drypoint" or beyond.sum() > 0.25 * beside.sum() else beside
    if far.any():
        marks = _marks(picture, far, box.pitch_mm)
        far &= ~marks
    return far, near
