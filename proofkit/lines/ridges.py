"""Ridge points of a picture of ink, each with its own direction, so that crossing lines stay whole."""

from functools import cache
from typing import NamedTuple

import cv2
import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats, Ink, Picture
from proofkit.lines.kernels import collect_ridges, keep_stronger

DIRECTIONS = 20
"""Number of filter directions over 180 degrees: steps of 9 degrees, about half the filter's own width."""

ACROSS_SIGMA_PX = 1.1
"""Gaussian sigma of the filter across the line. [px of the level]"""

ALONG_SIGMA_PX = 3.5
"""Gaussian sigma of the filter along the line: longer than a crossing line is wide, so that a line is followed
through its crossings. Longer ones tell flatter cross-hatching apart, and find lines in the corners of broad crossings:
at 4 px these turn the direction of broad cross-hatching by 0.1 degree and more. [px of the level]"""

LEVELS = 3
"""Octaves of line width: each level halves the picture."""

VALLEY_SHARE = 0.15
"""A finer level that answers below minus this share of the coarser one sees a gap, not a line. [-]"""

FINER_SHARE = 0.8
"""A coarse answer weaker than this share of the strongest finer one, in whatever direction, is no line. [-]"""

FINER_REACH_PX = 3
"""... within this distance: about the width of the line that a level finds. [px of the finer level]"""

NEIGHBOURHOOD_SIGMA_PX = 6.0
"""A line is darker than the mean of its neighbourhood of this Gaussian sigma. [px]"""

TILE_PX = 768
"""Side of the tiles in which the picture is filtered: 20 directions of a tile take 47 MB. [px]"""

HALO_PX = 48
"""Overlap of tiles, more than the reach of the broadest filter. [px]"""


class Ridges(NamedTuple):
    """Ridge points of a picture."""

    x: Floats
    """Column of the point, to a fraction of a pixel. [px]"""
    y: Floats
    """Row of the point. [px]"""
    direction: Floats
    """Direction of the line, from x towards y (down), 0 to pi. [rad]"""
    strength: Floats
    """Filter response, normalised so that a line as wide as the filter answers with about its depth. [codes]"""


@cache
def _filters() -> tuple[npt.NDArray[np.float32], ...]:
    """Return one oriented second-derivative filter per direction; each sums to 0."""
    reach = int(np.ceil(3.2 * ALONG_SIGMA_PX))
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1].astype(np.float64)
    filters = []
    for k in range(DIRECTIONS):
        angle = np.pi * k / DIRECTIONS
        along = x * np.cos(angle) + y * np.sin(angle)
        across = -x * np.sin(angle) + y * np.cos(angle)
        s = ACROSS_SIGMA_PX
        kernel = (1 - across**2 / s**2) * np.exp(
            -(across**2) / (2 * s**2) - along**2 / (2 * ALONG_SIGMA_PX**2)
        )
        kernel -= kernel.mean() * (kernel != 0)
        filters.append((kernel / np.abs(kernel).sum() * 2).astype(np.float32))
    return tuple(filters)


def _responses(tile: Picture) -> Picture:
    """Return the strongest answer over the levels for each direction, (DIRECTIONS, h, w).

    A coarse level also answers in the gap between two lines close together, and along the diagonals of
    cross-hatching. So a coarse answer counts only where no finer level sees a valley in that direction, nor a
    stronger line near by in any direction; and no answer counts where the picture is lighter than its
    neighbourhood.
    """
    h, w = tile.shape
    best = np.zeros((DIRECTIONS, h, w), dtype=np.float32)
    valley = np.zeros((DIRECTIONS, h, w), dtype=np.float32)
    finer = np.zeros((h, w), dtype=np.float32)
    for level in range(LEVELS):
        size = (max(w >> level, 1), max(h >> level, 1))
        small = tile if level == 0 else cv2.resize(tile, size, interpolation=cv2.INTER_AREA)
        for k, kernel in enumerate(_filters()):
            answer: Picture = np.asarray(
                cv2.filter2D(small, cv2.CV_32F, kernel, borderType=cv2.BORDER_REFLECT), dtype=np.float32
            )
            if level:
                # Linear interpolation would have its maxima at the coarse samples only, two for one broad line.
                answer = np.asarray(
                    cv2.resize(answer, (w, h), interpolation=cv2.INTER_CUBIC), dtype=np.float32
                )
            keep_stronger(
                answer, finer, np.float32(VALLEY_SHARE), np.float32(FINER_SHARE), best[k], valley[k]
            )
        reach = 2 * (FINER_REACH_PX << level) + 1
        cv2.dilate(best.max(axis=0), np.ones((reach, reach), dtype=np.uint8), dst=finer)
    best *= tile >= cv2.GaussianBlur(tile, (0, 0), NEIGHBOURHOOD_SIGMA_PX)
    return best


def find_ridges(ink: Ink, threshold: float) -> Ridges:
    """Return the ridge points of a picture of ink.

    Each of 20 directions is filtered apart with an elongated second-derivative Gaussian at three widths; a point
    is a ridge where the answer is greatest both across the line and among neighbouring directions. Where two
    lines cross, both directions have their own maximum.

    Parameters
    ----------
    ink : Ink
        (h, w) picture of ink, larger = darker. [codes]
    threshold : float
        Weakest answer that counts. [codes]

    Returns
    -------
    Ridges
        In the pixels of `ink`.

    Notes
    -----
    Position and direction are refined by parabolas through three neighbouring answers.
    """
    h, w = ink.shape
    found = []
    for top in range(0, h, TILE_PX):
        for left in range(0, w, TILE_PX):
            y0, x0 = max(top - HALO_PX, 0), max(left - HALO_PX, 0)
            y1, x1 = min(top + TILE_PX + HALO_PX, h), min(left + TILE_PX + HALO_PX, w)
            answers = _responses(ink[y0:y1, x0:x1].astype(np.float32))
            points = collect_ridges(answers, np.float32(threshold))
            points[:, 0] += x0
            points[:, 1] += y0
            inside = (
                (points[:, 0] >= left - 0.5)
                & (points[:, 0] < left + TILE_PX - 0.5)
                & (points[:, 1] >= top - 0.5)
                & (points[:, 1] < top + TILE_PX - 0.5)
            )
            found.append(points[inside])
    table = np.concatenate(found) if found else np.empty((0, 4))
    return Ridges(table[:, 0], table[:, 1], table[:, 2], table[:, 3])
