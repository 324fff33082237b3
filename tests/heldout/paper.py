"""Paper as a felt of short fibres, and the sheet lying on the bed of the scanner."""

from __future__ import annotations

import cv2
import numba
import numpy as np
import numpy.typing as npt

from tests.heldout.fields import Array

Floats32 = npt.NDArray[np.float32]


@numba.njit(cache=True)
def _lay_fibres(picture, x, y, turn, bend, length, shade):  # type: ignore[no-untyped-def]
    for f in range(x.shape[0]):
        cx, cy, t = x[f], y[f], turn[f]
        for _ in range(length[f]):
            i, j = int(cy), int(cx)
            if 0 <= i < picture.shape[0] and 0 <= j < picture.shape[1]:
                picture[i, j] += shade[f]
            cx += np.cos(t)
            cy += np.sin(t)
            t += bend[f]


def felt(rng: np.random.Generator, shape: tuple[int, int], px_per_mm: float, sd: float) -> Floats32:
    """Return relative reflectance about 1: fibres of 1 to 2 mm, and the slow clouds of sheet forming."""
    rows, columns = shape
    count = int(rows * columns / px_per_mm**2 * 14)
    picture = np.zeros(shape, np.float32)
    _lay_fibres(
        picture,
        rng.uniform(-20, columns + 20, count),
        rng.uniform(-20, rows + 20, count),
        rng.normal(0, 0.9, count) + np.pi * rng.integers(0, 2, count),
        rng.normal(0, 0.5, count) / px_per_mm,
        rng.integers(int(0.7 * px_per_mm), int(2 * px_per_mm), count),
        rng.normal(0, 1, count).astype(np.float32),
    )
    picture = cv2.GaussianBlur(picture, (0, 0), 0.03 * px_per_mm)
    picture *= sd / float(picture.std())
    step = max(1, int(px_per_mm))
    coarse = rng.standard_normal((rows // step + 2, columns // step + 2)).astype(np.float32)
    clouds = cv2.GaussianBlur(coarse, (0, 0), 2.5)
    clouds *= 0.35 * sd / float(clouds.std())
    picture += cv2.resize(clouds, (columns, rows), interpolation=cv2.INTER_CUBIC)
    picture += 1.0
    return picture


def sheet_outline(rng: np.random.Generator, corners_px: Array, px_per_mm: float) -> Array:
    """Return the outline of a sheet with a slightly deckled edge about the plate's corners. (n, 2) [px]"""
    out = []
    centre = corners_px.mean(axis=0)
    wide = centre + (corners_px - centre) * (1 + 10 * px_per_mm / np.abs(corners_px - centre).max(axis=0))
    for a, b in zip(wide, np.roll(wide, -1, axis=0), strict=True):
        t = np.linspace(0, 1, 60, endpoint=False)[:, None]
        out.append(a + t * (b - a) + 0.12 * px_per_mm * rng.standard_normal((60, 2)))
    return np.concatenate(out)


def cut_out(picture: Floats32, outline_px: Array, bed: float) -> None:
    """Let the scanner's bed show outside the sheet."""
    mask = np.zeros(picture.shape, np.uint8)
    cv2.fillPoly(mask, [np.round(outline_px * 16).astype(np.int32)], 255, lineType=cv2.LINE_AA, shift=4)
    share = mask.astype(np.float32) / 255
    picture *= share
    picture += bed * (1 - share)
