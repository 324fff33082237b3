"""Ridge points of a picture of ink, each with its own direction, so that crossing lines stay whole."""

from collections.abc import Iterator
from functools import cache, lru_cache
from typing import NamedTuple, TypeAlias

import cv2
import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats, Ink, Mask, Picture
from proofkit.lines.kernels import collect_ridges, keep_first, keep_stronger
from proofkit.threads import each_in_order

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

TILE_PX = 432
"""Side of the tiles in which the picture is filtered: 20 directions of a tile take 32 MB in each thread; with what
filters reach beside it, it is of sizes that are transformed fast. [px]"""

HALO_PX = 48
"""Overlap of tiles, more than the reach of the broadest filter. [px]"""


Spectra: TypeAlias = tuple[Picture, ...]
"""Of each filter, packed as OpenCV packs the transform of a real picture."""


BESIDE_PX = 9
"""Pixels beside a tile whose answers are kept: a finer line is asked for up to 6 px away, and ridge points are found up
to 3 px beside their place. [px]"""


class Span(NamedTuple):
    """Rows and columns of a part of a picture, the last ones not included."""

    top: int
    left: int
    bottom: int
    right: int


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


@lru_cache(maxsize=32)
def _spectra(rows: int, columns: int) -> Spectra:
    """Return the Fourier transforms of the filters, each laid about the first pixel of a picture of this size."""
    spectra = []
    for kernel in _filters():
        reach = kernel.shape[0] // 2
        laid = np.zeros((rows, columns), dtype=np.float32)
        laid[: 2 * reach + 1, : 2 * reach + 1] = kernel
        laid = np.roll(laid, (-reach, -reach), axis=(0, 1))
        spectra.append(np.asarray(cv2.dft(laid), dtype=np.float32))
    return tuple(spectra)


def _transformed_size(side: int) -> int:
    """Return the size in which a side is transformed: few sizes serve tiles at the border of the picture too."""
    usual = [cv2.getOptimalDFTSize(size) for size in _usual_sizes()]
    fitting = [size for size in usual if 0.8 * size <= side <= size]
    return min(fitting, default=cv2.getOptimalDFTSize(side))


def _usual_sizes() -> tuple[int, ...]:
    """Return the sides of a tile inside the picture at each level, as far as its filters reach."""
    reach = 2 * (_filters()[0].shape[0] // 2)
    coarse = (((TILE_PX + 2 * HALO_PX) >> level) + reach for level in range(1, LEVELS))
    return TILE_PX + 2 * BESIDE_PX + 2 * reach, *coarse


def _filtered(picture: Picture) -> Iterator[Picture]:
    """Give the answers of one filter after the other, of the size of the picture.

    All of them share one transform of the picture, which makes a fifth of the work of filtering it anew each time.
    """
    reach = _filters()[0].shape[0] // 2
    h, w = picture.shape
    rows, columns = (_transformed_size(side + 2 * reach) for side in (h, w))
    wide = cv2.copyMakeBorder(
        picture, reach, rows - h - reach, reach, columns - w - reach, cv2.BORDER_REFLECT
    )
    spectrum = cv2.dft(wide)
    for of_filter in _spectra(rows, columns):
        both = cv2.mulSpectrums(spectrum, of_filter, 0, conjB=True)
        answer = cv2.idft(both, flags=cv2.DFT_SCALE | cv2.DFT_REAL_OUTPUT)
        yield np.asarray(answer[reach : reach + h, reach : reach + w], dtype=np.float32)


def _inner_answers(tile: Picture, inner: Span) -> Iterator[tuple[Picture, Span]]:
    """Give the answers of the finest level, filter after filter, and where the inner part lies in them.

    The halo is as wide as the coarsest level asks; the finest needs no more of it than its filters reach.
    """
    reach = _filters()[0].shape[0] // 2
    y0, x0 = (max(first - reach, 0) for first in (inner.top, inner.left))
    near = tile[y0 : inner.bottom + reach, x0 : inner.right + reach]
    at = Span(inner.top - y0, inner.left - x0, inner.bottom - y0, inner.right - x0)
    for answer in _filtered(near):
        yield answer, at


def _coarse_answers(tile: Picture, level: int, inner: Span) -> Iterator[tuple[Picture, Span]]:
    """Give the answers of a coarser level, filter after filter, on the pixels about the inner part, and where it lies.

    Only what is asked for is made fine again; where the tile's sides are no multiples of the level's pixels, at the
    border of the picture, the whole of it is, so that all pixels keep their places.
    """
    h, w = tile.shape
    size = (max(w >> level, 1), max(h >> level, 1))
    small = np.asarray(cv2.resize(tile, size, interpolation=cv2.INTER_AREA), dtype=np.float32)
    fits = (size[0] << level, size[1] << level) == (w, h)
    part = _about(inner, level, size) if fits else Span(0, 0, size[1], size[0])
    rows, columns = ((part.bottom - part.top) << level, (part.right - part.left) << level) if fits else (h, w)
    at = Span(
        inner.top - (part.top << level), inner.left - (part.left << level),
        inner.bottom - (part.top << level), inner.right - (part.left << level),
    )  # fmt: skip
    for answer in _filtered(small):
        asked = answer[part.top : part.bottom, part.left : part.right]
        # Linear interpolation would have its maxima at the coarse samples only, two for one broad line.
        large = cv2.resize(asked, (columns, rows), interpolation=cv2.INTER_CUBIC)
        yield np.asarray(large, dtype=np.float32), at


def _about(inner: Span, level: int, size: tuple[int, int]) -> Span:
    """Return the pixels of a coarser level, so many columns and rows, from which the inner part is interpolated."""
    beside = 3
    return Span(
        max((inner.top >> level) - beside, 0),
        max((inner.left >> level) - beside, 0),
        min((inner.bottom >> level) + beside + 1, size[1]),
        min((inner.right >> level) + beside + 1, size[0]),
    )


def _responses(tile: Picture, inner: Span, room: Picture) -> tuple[Picture, Mask]:
    """Return the strongest answers over the levels, (DIRECTIONS, rows, columns of the inner part), and where they hold.

    They are written into `room` (2, numbers), which serves tile after tile: to be given so much new memory each time
    took as long as to fill it.

    A coarse level also answers in the gap between two lines close together, and along the diagonals of
    cross-hatching. So a coarse answer counts only where no finer level sees a valley in that direction, nor a
    stronger line near by in any direction; and no answer counts where the picture is lighter than its
    neighbourhood.
    """
    shape = inner.bottom - inner.top, inner.right - inner.left
    best, valley = (part[: DIRECTIONS * shape[0] * shape[1]].reshape(DIRECTIONS, *shape) for part in room)
    finer = np.empty(shape, dtype=np.float32)
    strongest = np.zeros(shape, dtype=np.float32)
    shares = np.float32(VALLEY_SHARE), np.float32(FINER_SHARE)
    for level in range(LEVELS):
        answers = _coarse_answers(tile, level, inner) if level else _inner_answers(tile, inner)
        for k, (answer, at) in enumerate(answers):
            if level:
                keep_stronger(answer, finer, *shares, best[k], valley[k], strongest, (at.top, at.left))
            else:
                keep_first(answer, best[k], valley[k], strongest, (at.top, at.left))
        reach = 2 * (FINER_REACH_PX << level) + 1
        cv2.dilate(strongest, np.ones((reach, reach), dtype=np.uint8), dst=finer)
    dark = tile >= cv2.GaussianBlur(tile, (0, 0), NEIGHBOURHOOD_SIGMA_PX)
    return best, np.asarray(dark[inner.top : inner.bottom, inner.left : inner.right])


def _of_row(ink: Ink, threshold: float, top: int) -> Floats:
    """Return the ridge points of one row of tiles, (n, 4) x, y, direction, strength."""
    room = np.empty((2, DIRECTIONS * (TILE_PX + 2 * BESIDE_PX) ** 2), dtype=np.float32)
    return np.concatenate([
        _of_tile(ink, threshold, (top, left), room) for left in range(0, ink.shape[1], TILE_PX)
    ])  # fmt: skip


def _of_tile(ink: Ink, threshold: float, corner: tuple[int, int], room: Picture) -> Floats:
    """Return the ridge points of one tile, (n, 4) x, y, direction, strength."""
    h, w = ink.shape
    top, left = corner
    y0, x0 = max(top - HALO_PX, 0), max(left - HALO_PX, 0)
    y1, x1 = min(top + TILE_PX + HALO_PX, h), min(left + TILE_PX + HALO_PX, w)
    inner = Span(
        max(top - BESIDE_PX, 0) - y0,
        max(left - BESIDE_PX, 0) - x0,
        min(top + TILE_PX + BESIDE_PX, h) - y0,
        min(left + TILE_PX + BESIDE_PX, w) - x0,
    )
    answers, dark = _responses(ink[y0:y1, x0:x1].astype(np.float32), inner, room)
    points = collect_ridges(answers, dark, np.float32(threshold))
    points[:, 0] += x0 + inner.left
    points[:, 1] += y0 + inner.top
    inside = (
        (points[:, 0] >= left - 0.5)
        & (points[:, 0] < left + TILE_PX - 0.5)
        & (points[:, 1] >= top - 0.5)
        & (points[:, 1] < top + TILE_PX - 0.5)
    )
    return np.asarray(points[inside])


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
    found = each_in_order(lambda top: _of_row(ink, threshold, top), range(0, ink.shape[0], TILE_PX))
    _spectra.cache_clear()
    table = np.concatenate(found) if found else np.empty((0, 4))
    return Ridges(table[:, 0], table[:, 1], table[:, 2], table[:, 3])
