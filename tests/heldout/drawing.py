"""A pencil drawing and the plate engraved after it, each drawn in its own way from the same composition.

The plate is cut by a burin along the contours, with hatching of its own; the drawing is rubbed graphite, stroke laid
over stroke, on the tooth of the paper. Nothing of the one is made from the other's lines.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
import tifffile
from shapely.geometry import Polygon
from shapely.validation import make_valid

from tests.heldout.fields import Array, random_waves, smoothed_noise, value
from tests.heldout.plate import STEP_MM, Field, Plate, _Drawer, _hatch

Floats32 = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Composition:
    """Contours on the plate as they are meant to print. (n, 2) each, in mm of the print."""

    width_mm: float
    height_mm: float
    contours: tuple[Array, ...]
    hatched: tuple[int, ...]
    """Numbers of closed contours that the engraver fills with hatching."""


@dataclass(frozen=True, slots=True, eq=False)
class Departure:
    """A stretch of a contour that the engraver moved on purpose."""

    contour: int
    middle_mm: Array
    """(2,) of the stretch as the drawing has it, in mm of the print."""
    shift_mm: float
    """Signed, along the contour's normal."""
    moved: slice
    """Points of the contour that were moved by half of it and more."""


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """How the drawing lies in its scan: print mm -> px."""

    affine: Array
    """(2, 3)."""
    mirrored: bool
    scale: tuple[float, float]
    """Drawing mm per print mm along x and y."""


def compose(seed: int, size_mm: tuple[float, float] = (60.0, 48.0)) -> Composition:
    """Return rounded bodies and free lines, as outlines of hills, heads and trunks are."""
    rng = np.random.default_rng([seed, 61])
    contours, hatched = [], []
    for _ in range(int(rng.integers(5, 8))):
        centre = rng.uniform((10, 9), np.array(size_mm) - (10, 9))
        turn = np.arange(0, 2 * np.pi, 0.02)
        radius = rng.uniform(3.5, 8.0)
        r = radius * (
            1 + sum(rng.normal(0, 0.22 / k) * np.cos(k * turn + rng.uniform(0, 6)) for k in (1, 2, 3, 4))
        )
        points = centre + np.stack((r * np.cos(turn), rng.uniform(0.6, 1.0) * r * np.sin(turn)), axis=1)
        if rng.uniform() < 0.4:
            hatched.append(len(contours))
        contours.append(_evenly(np.clip(points, 2.5, np.array(size_mm) - 2.5)))
    for _ in range(int(rng.integers(6, 10))):
        start = rng.uniform(4, np.array(size_mm) - 4)
        heading = rng.uniform(0, 2 * np.pi)
        count = int(rng.uniform(8, 22) / STEP_MM)
        turn = heading + np.cumsum(0.010 * smoothed_noise(rng, count, 40.0))
        points = start + STEP_MM * np.cumsum(np.stack((np.cos(turn), np.sin(turn)), axis=1), axis=0)
        inside = ((points > 2.5) & (points < np.array(size_mm) - 2.5)).all(axis=1)
        points = points[: int(np.argmin(inside)) if not inside.all() else None]
        if len(points) * STEP_MM > 5:
            contours.append(points)
    return Composition(*size_mm, tuple(contours), tuple(hatched))


def _evenly(points: Array) -> Array:
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
    at = np.arange(0, along[-1], STEP_MM)
    return np.stack([np.interp(at, along, points[:, k]) for k in (0, 1)], axis=1)


def depart(
    composition: Composition, seed: int, count: int, shift_mm: float = 1.0
) -> tuple[Composition, list[Departure]]:
    """Return the composition as the engraver changed it: stretches of contours pushed aside."""
    rng = np.random.default_rng([seed, 67])
    contours = list(composition.contours)
    long = [k for k, points in enumerate(contours) if len(points) * STEP_MM > 14]
    made = []
    for k in rng.permutation(long)[:count]:
        points = contours[int(k)]
        half = 4.0 / STEP_MM
        middle = float(rng.uniform(half + 12, len(points) - half - 12))
        at = np.abs(np.arange(len(points)) - middle)
        # A plateau of 5 mm with flanks of 1.5 mm: the engraver moves a passage, and joins it to the rest.
        push = np.clip((half - at) / (1.5 / STEP_MM), 0, 1)
        push = push * push * (3 - 2 * push)
        step = np.gradient(points, axis=0)
        normal = np.stack((-step[:, 1], step[:, 0]), axis=1) / np.maximum(np.hypot(*step.T), 1e-9)[:, None]
        signed = shift_mm * (1 if rng.uniform() < 0.5 else -1)
        contours[int(k)] = points + signed * push[:, None] * normal
        far = np.flatnonzero(push >= 0.5)
        made.append(Departure(int(k), points[int(middle)], signed, slice(int(far[0]), int(far[-1]) + 1)))
    return replace(composition, contours=tuple(contours)), made


def engrave(composition: Composition, seed: int) -> Plate:
    """Return the plate cut after a composition: contours broken into several strokes, hatching inside some bodies."""
    rng = np.random.default_rng([seed, 71])
    draw = _Drawer(rng)
    for points in composition.contours:
        start = 0
        while start < len(points) - 8:
            stop = min(start + int(rng.uniform(4, 14) / STEP_MM), len(points))
            piece = points[max(start - 4, 0) : stop]
            wander = np.stack([smoothed_noise(rng, len(piece), 15.0) for _ in (0, 1)], axis=1)
            draw.stroke(piece + 0.025 * wander, rng.uniform(70, 150), rng.uniform(0.5, 0.9))
            start = stop
    for k in composition.hatched:
        body = make_valid(Polygon(composition.contours[k])).buffer(-0.4)
        parts = getattr(body, "geoms", [body])
        angle = rng.uniform(0, np.pi)
        for part in parts:
            if part.geom_type == "Polygon" and part.area > 6:
                _hatch(draw, part, rng.uniform(2.5, 4.5), rng.uniform(50, 90), angle)
    outline = Polygon([(2, 2), (composition.width_mm - 2, 2), (composition.width_mm - 2, 6), (2, 6)])
    field = Field("1 plate", "lines", outline, "hatch", float("nan"))
    return Plate(composition.width_mm, composition.height_mm, 0.8, draw.strokes(), (field,))


def lay_drawing(
    seed: int, composition: Composition, ppi: float, *, mirrored: bool
) -> tuple[Sheet, tuple[int, int]]:
    """Return how the drawing lies in its scan, and the size of the scan. [px]"""
    rng = np.random.default_rng([seed, 73])
    scale = tuple(rng.uniform(0.95, 1.05, 2))
    turn = np.deg2rad(rng.uniform(-3, 3))
    c, s = np.cos(turn), np.sin(turn)
    linear = ppi / 25.4 * np.array([[c, s], [-s, c]]) @ np.diag(scale)
    if mirrored:
        linear = linear @ np.diag([-1.0, 1.0])
    w, h = composition.width_mm, composition.height_mm
    corners = np.array([(0, 0), (w, 0), (w, h), (0, h)]) @ linear.T
    margin = rng.uniform(8, 18, 4) * ppi / 25.4
    shift = margin[:2] - corners.min(axis=0)
    size = corners.max(axis=0) + shift + margin[2:]
    return Sheet(np.column_stack((linear, shift)), mirrored, scale), (int(size[0]), int(size[1]))


def draw_in_pencil(
    path: Path,
    composition: Composition,
    sheet: Sheet,
    size: tuple[int, int],
    ppi: float,
    *,
    darkness: float,
    seed: int,
) -> tuple[npt.NDArray[np.bool_], ...]:
    """Write the scan of a pencil drawing and return, of each contour, which of its points were drawn.

    `darkness` is the density of a usual stroke of graphite: 0.5 firm, 0.1 weak. The ends of most contours are left
    open, as a hand leaves them.
    """
    rng = np.random.default_rng([seed, 79])
    width, height = size
    graphite = np.zeros((height, width), np.float32)
    per_mm = ppi / 25.4
    bend = [random_waves(rng, 60.0), random_waves(rng, 60.0)]
    drawn = tuple(np.zeros(len(points), dtype=bool) for points in composition.contours)
    for points, mine in zip(composition.contours, drawn, strict=True):
        # Soft uneven shrinking of the paper up to about 0.2 mm, and the hand beside the meant line.
        moved = points + 0.1 * np.stack([value(b, points) for b in bend], axis=1)
        for _ in range(int(rng.integers(1, 4))):
            a = int(rng.uniform(0, 0.15) * len(moved))
            b = int(rng.uniform(0.8, 1.0) * len(moved))
            mine[a:b] = True
            wander = np.stack([smoothed_noise(rng, b - a, 60.0) for _ in (0, 1)], axis=1)
            course = moved[a:b] + 0.04 * wander
            _rub(graphite, course @ sheet.affine[:, :2].T + sheet.affine[:, 2], per_mm, rng)
    for _ in range(4):  # lines of construction that were never engraved
        ends = rng.uniform(0, size, (2, 2))
        t = np.linspace(0, 1, 400)[:, None]
        _rub(graphite, ends[0] + t * (ends[1] - ends[0]), per_mm, rng, pressure=0.5)
    tooth = cv2.GaussianBlur(rng.standard_normal((height, width)).astype(np.float32), (0, 0), 0.06 * per_mm)
    tooth /= tooth.std()
    smudge = cv2.GaussianBlur(graphite, (0, 0), 1.5 * per_mm)
    density = darkness * (graphite * np.clip(0.75 + 0.45 * tooth, 0, 1.6) + 0.25 * smudge)
    paper = 0.82 * (1 + 0.012 * tooth + 0.01 * cv2.GaussianBlur(tooth, (0, 0), 12))
    light = paper * np.power(10.0, -density)
    light += rng.normal(0, 0.004, light.shape).astype(np.float32)
    codes = np.clip(255 * np.clip(light, 0, 1) ** (1 / 2.2) + 0.5, 0, 255).astype(np.uint8)
    tifffile.imwrite(
        path, codes, photometric="minisblack", resolution=(ppi, ppi), resolutionunit="INCH", metadata=None,
        compression="deflate", predictor=True,
    )  # fmt: skip
    return drawn


def _rub(
    graphite: Floats32, course_px: Array, per_mm: float, rng: np.random.Generator, pressure: float = 1.0
) -> None:
    """Lay a stroke as overlapping dabs of a blunt point whose pressure comes and goes."""
    count = len(course_px)
    press = np.clip(pressure * (0.8 + 0.3 * smoothed_noise(rng, count, 50.0)), 0.1, 1.3)
    radius = rng.uniform(0.15, 0.3) * per_mm
    layer = np.zeros_like(graphite)
    for (x, y), force in zip(course_px[::2], press[::2], strict=False):
        centre = (round(16 * x), round(16 * y))
        cv2.circle(layer, centre, round(16 * radius * (0.7 + 0.3 * force)), float(force), -1, cv2.LINE_AA, 4)
    soft = cv2.GaussianBlur(layer, (0, 0), 0.35 * radius)
    graphite += (1 - 0.6 * np.clip(graphite, 0, 1)) * soft
