"""Polygons to light: ink quads on a fine grid, sampled at its points, then the blur of optics and the pixel."""

from __future__ import annotations

import math

import cv2
import numba
import numpy as np
import numpy.typing as npt

from tests.heldout.fields import Array
from tests.heldout.plate import Strokes

Floats32 = npt.NDArray[np.float32]


@numba.njit(cache=True)
def fill_quads(buffer, quads, density, first_row, ss):  # type: ignore[no-untyped-def]
    """Lay convex quads on a fine grid, the densest on top.

    `buffer` is (rows * ss, width * ss); point (i, j) of it lies at px ``(j + 0.5) / ss - 0.5`` and
    ``first_row + (i + 0.5) / ss - 0.5``. A point takes a quad's density when it lies inside: no outline is drawn, so
    widths are unbiased.
    """
    rows, columns = buffer.shape
    for q in range(quads.shape[0]):
        d = density[q]
        if d <= 0.004:
            continue
        ymin = min(quads[q, 0, 1], quads[q, 1, 1], quads[q, 2, 1], quads[q, 3, 1])
        ymax = max(quads[q, 0, 1], quads[q, 1, 1], quads[q, 2, 1], quads[q, 3, 1])
        i0 = max(0, math.ceil((ymin - first_row + 0.5) * ss - 0.5))
        i1 = min(rows - 1, math.floor((ymax - first_row + 0.5) * ss - 0.5))
        for i in range(i0, i1 + 1):
            y = first_row + (i + 0.5) / ss - 0.5
            xmin, xmax = 1e30, -1e30
            for k in range(4):
                xa, ya = quads[q, k, 0], quads[q, k, 1]
                xb, yb = quads[q, (k + 1) % 4, 0], quads[q, (k + 1) % 4, 1]
                if (ya <= y < yb) or (yb <= y < ya):
                    x = xa + (y - ya) / (yb - ya) * (xb - xa)
                    xmin = min(xmin, x)
                    xmax = max(xmax, x)
            j0 = max(0, math.ceil((xmin + 0.5) * ss - 0.5))
            j1 = min(columns - 1, math.ceil((xmax + 0.5) * ss - 0.5) - 1)
            for j in range(j0, j1 + 1):
                buffer[i, j] = max(buffer[i, j], d)


@numba.njit(cache=True)
def to_light(ink, ground, ss):  # type: ignore[no-untyped-def]
    """Turn line density and ground density into reflectance on the fine grid, in place of `ink`."""
    for i in range(ground.shape[0]):
        for j in range(ground.shape[1]):
            g = ground[i, j]
            light = 10.0**-g
            for a in range(i * ss, i * ss + ss):
                for b in range(j * ss, j * ss + ss):
                    ink[a, b] = light if ink[a, b] <= g else 10.0 ** -ink[a, b]


def quads_of(strokes: Strokes, left_px: Array, right_px: Array) -> tuple[Array, npt.NDArray[np.intp]]:
    """Return (m, 4, 2) quads between neighbouring points of each stroke, and the first point of each."""
    first = np.ones(len(left_px), dtype=bool)
    first[strokes.start[1:] - 1] = False
    at = np.flatnonzero(first)
    return np.stack((left_px[at], left_px[at + 1], right_px[at + 1], right_px[at]), axis=1), at


def band_light(
    layers: list[tuple[Array, Array]], ground: Floats32, first_row: int, ss: int, blur_px: float
) -> Floats32:
    """Return the light of a band of scan rows after optics and pixel.

    `layers` holds quads [px] with densities; `ground` the film of the band [D], wide enough for the blur.
    """
    rows, columns = ground.shape
    ink = np.zeros((rows * ss, columns * ss), np.float32)
    for quads, density in layers:
        near = (quads[:, :, 1].max(axis=1) > first_row - 1) & (
            quads[:, :, 1].min(axis=1) < first_row + rows + 1
        )
        fill_quads(ink, quads[near], density[near].astype(np.float32), float(first_row), ss)
    to_light(ink, ground, ss)
    soft = cv2.GaussianBlur(ink, (0, 0), blur_px * ss, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(cv2.resize(soft, (columns, rows), interpolation=cv2.INTER_AREA))
