"""A random engraved plate: fields of strokes, each a course of points with width and depth."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from shapely import contains_xy
from shapely.geometry import Polygon

from tests.heldout.fields import Array, smoothed_noise
from tests.heldout.tone import Tone

STEP_MM = 0.08
"""Distance between the points of a stroke."""


@dataclass(frozen=True, slots=True, eq=False)
class Strokes:
    """All strokes of a plate, one after the other."""

    points_mm: Array
    """(n, 2) centre line, in plate mm."""
    width_um: Array
    """(n,) full width in print, before anything that happens to one pull."""
    depth: Array
    """(n,) 0 shallow to 1 deep: decides core density and what wiping takes."""
    start: np.ndarray
    """(s + 1,) index of the first point of each stroke, and n."""
    burr: np.ndarray
    """(n,) bool, drypoint with a skirt of burr."""


@dataclass(frozen=True, slots=True, eq=False)
class Field:
    """One region of the plate and what is worked in it."""

    name: str
    work: str
    outline: Polygon
    note: str
    """hatch, cross, contour, stipple, open, burr."""
    per_mm: float
    """Lines per mm across one direction of hatching; NaN where there is none."""


@dataclass(frozen=True, slots=True, eq=False)
class Plate:
    """The copper."""

    width_mm: float
    height_mm: float
    corner_mm: float
    strokes: Strokes
    fields: tuple[Field, ...]
    tones: tuple[Tone, ...] = ()


@dataclass(slots=True)
class _Drawer:
    rng: np.random.Generator
    points: list[Array] = field(default_factory=list)
    width: list[Array] = field(default_factory=list)
    depth: list[Array] = field(default_factory=list)
    burr: list[np.ndarray] = field(default_factory=list)

    def stroke(
        self, points: Array, width_um: float, depth: float, *, swell: bool = True, burr: bool = False
    ) -> None:
        """Keep one stroke: swelled in the middle, tapered at both ends as a burin leaves it."""
        count = len(points)
        if count < 4:
            return
        t = np.linspace(0, 1, count)
        ends = np.minimum(t, 1 - t) * count * STEP_MM
        taper = np.clip(0.35 + ends / self.rng.uniform(0.4, 1.2), 0, 1)
        shape = taper * (1 + (0.10 * np.sin(np.pi * t + self.rng.uniform(0, 0.8)) if swell else 0))
        shape = shape * (1 + 0.04 * smoothed_noise(self.rng, count, 12.0))
        self.points.append(points)
        self.width.append(width_um * shape)
        self.depth.append(np.clip(depth * (0.85 + 0.15 * taper), 0, 1))
        self.burr.append(np.full(count, burr))

    def strokes(self) -> Strokes:
        counts = [len(p) for p in self.points]
        return Strokes(
            np.concatenate(self.points),
            np.concatenate(self.width),
            np.concatenate(self.depth),
            np.concatenate(([0], np.cumsum(counts))),
            np.concatenate(self.burr),
        )


def _runs(inside: np.ndarray) -> list[slice]:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], inside.astype(np.int8), [0]))))
    return [slice(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _depth_of(width_um: float, rng: np.random.Generator) -> float:
    return float(np.clip(0.25 + 0.75 * (width_um - 35) / 180 + rng.normal(0, 0.04), 0.1, 1))


def _hatch(
    draw: _Drawer, cell: Polygon, per_mm: float, width_um: float, angle: float, *, burr: bool = False
) -> None:
    """Draw hand-laid parallel strokes: pitch scatters 3 to 6 %, all bend together a little."""
    rng = draw.rng
    jitter = rng.uniform(0.03, 0.06)
    cx, cy = cell.centroid.x, cell.centroid.y
    reach = np.hypot(cell.bounds[2] - cell.bounds[0], cell.bounds[3] - cell.bounds[1]) / 2 + 1
    along = np.arange(-reach, reach, STEP_MM)
    bend = rng.uniform(-0.006, 0.006)
    direction = np.array([np.cos(angle), np.sin(angle)])
    normal = np.array([-direction[1], direction[0]])
    offset = -reach
    while offset < reach:
        offset += (1 + jitter * rng.standard_normal()) / per_mm
        across = offset + bend * along**2 + 0.008 * smoothed_noise(rng, len(along), 40.0)
        points = np.array([cx, cy]) + along[:, None] * direction + across[:, None] * normal
        inside = contains_xy(cell, points[:, 0], points[:, 1])
        w = width_um * (1 + 0.06 * rng.standard_normal())
        for run in _runs(inside):
            cut = rng.integers(0, 14, 2)
            part = points[run.start + cut[0] : max(run.stop - cut[1], run.start)]
            draw.stroke(part, w, _depth_of(w, rng), burr=burr)


def _contours(draw: _Drawer, cell: Polygon, pitch: float, width_um: float) -> float:
    """Draw curves that follow a form, as level lines of a rounded body do; return lines per mm where closest."""
    rng = draw.rng
    x0, y0, x1, y1 = cell.bounds
    centre = np.array([rng.uniform(x0 - 5, x1 + 5), rng.uniform(y0 - 5, y1 + 5)])
    squash = rng.uniform(0.5, 0.9)
    far = np.hypot(x1 - x0, y1 - y0) * 1.6
    radius = 2.0
    while radius < far / squash:
        turn = rng.uniform(0, 2 * np.pi) + np.arange(0, 2 * np.pi, STEP_MM / radius)
        r = radius * (1 + 0.05 * np.sin(3 * turn + 0.4) + 0.03 * np.sin(5 * turn + radius / 9))
        points = centre + np.stack((r * np.cos(turn), squash * r * np.sin(turn)), axis=1)
        w = width_um * rng.uniform(0.8, 1.2)
        for run in _runs(contains_xy(cell, points[:, 0], points[:, 1])):
            draw.stroke(points[run], w, _depth_of(w, rng))
        radius += pitch * (1 + 0.05 * rng.standard_normal())
    return float(1 / (pitch * squash))


def _stipple(draw: _Drawer, cell: Polygon) -> None:
    """Draw flicks and dots in no order."""
    rng = draw.rng
    x0, y0, x1, y1 = cell.bounds
    count = int(cell.area * rng.uniform(2.5, 4.5))
    for x, y in rng.uniform((x0, y0), (x1, y1), (count, 2)):
        if not contains_xy(cell, x, y):
            continue
        turn = rng.uniform(0, np.pi)
        along = np.arange(0, rng.uniform(0.28, 0.6), STEP_MM)[:, None]
        w = rng.uniform(55, 120)
        points = np.array([x, y]) + along * [np.cos(turn), np.sin(turn)]
        draw.stroke(points, w, _depth_of(w, rng), swell=False)


def _cells(
    rng: np.random.Generator, width: float, height: float, count: int
) -> list[tuple[float, float, float, float]]:
    """Cut the plate into `count` upright cells, the largest first, never thinner than 10 mm."""
    edge = rng.uniform(2.0, 4.0)
    cells = [(edge, edge, width - edge, height - edge)]
    while len(cells) < count:
        cells.sort(key=lambda c: (c[2] - c[0]) * (c[3] - c[1]))
        x0, y0, x1, y1 = cells.pop()
        at = rng.uniform(0.4, 0.6)
        if x1 - x0 > y1 - y0:
            x = x0 + at * (x1 - x0)
            cells += [(x0, y0, x, y1), (x, y0, x1, y1)]
        else:
            y = y0 + at * (y1 - y0)
            cells += [(x0, y0, x1, y), (x0, y, x1, y1)]
    return cells


def _ragged(rng: np.random.Generator, cell: tuple[float, float, float, float], gap: float) -> Polygon:
    x0, y0, x1, y1 = cell
    w, h = x1 - x0, y1 - y0
    corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]) + gap * np.array(
        [(1, 1), (-1, 1), (-1, -1), (1, -1)]
    )
    inward = rng.uniform(0, 0.14, (4, 2)) * [w, h] * np.array([(1, 1), (-1, 1), (-1, -1), (1, -1)])
    return Polygon(corners + inward)


def random_plate(seed: int, size_mm: tuple[float, float] | None = None) -> Plate:
    """Return the plate of a seed; every one has broad hatching, fine hatching, cross-hatching and open ground."""
    rng = np.random.default_rng([seed, 1])
    width, height = size_mm or tuple(np.round(rng.uniform(50, 120, 2), 1))
    draw = _Drawer(rng)
    count = int(np.clip(width * height / 550, 6, 12))
    cells = _cells(rng, width, height, count)
    rng.shuffle(cells)
    kinds = ["broad", "fine", "cross", "open", "contour", "stipple"]
    kinds += list(
        rng.choice(["hatch", "hatch", "cross", "contour", "open", "burr"], max(0, count - len(kinds)))
    )
    fields = [
        _worked(draw, kind, cell, index) for index, (kind, cell) in enumerate(zip(kinds, cells, strict=True))
    ]
    return Plate(width, height, float(rng.uniform(0.3, 1.5)), draw.strokes(), tuple(fields))


def _worked(draw: _Drawer, kind: str, cell: tuple[float, float, float, float], index: int) -> Field:
    rng = draw.rng
    area = _ragged(rng, cell, 0.6)
    angle = rng.uniform(0, np.pi)
    work = {"open": "open", "stipple": "tone", "burr": "drypoint"}.get(kind, "lines")
    spans = {
        "broad": (2.8, 3.2),
        "fine": (7.5, 9),
        "hatch": (3.5, 7),
        "burr": (2, 3),
        "cross": (3.5, 6),
        "contour": (1.7, 3.3),
    }
    per_mm = rng.uniform(*spans[kind]) if kind in spans else float("nan")
    if kind == "broad":
        _hatch(draw, area, per_mm, rng.uniform(160, 200), angle)
    elif kind == "fine":
        _hatch(draw, area, per_mm, rng.uniform(38, 52), angle)
    elif kind == "hatch":
        _hatch(draw, area, per_mm, rng.uniform(0.3, 0.5) * 1000 / per_mm, angle)
    elif kind == "burr":
        _hatch(draw, area, per_mm, rng.uniform(35, 50), angle, burr=True)
    elif kind == "cross":
        width = rng.uniform(0.25, 0.4) * 1000 / per_mm
        _hatch(draw, area, per_mm, width, angle)
        _hatch(draw, area, per_mm * rng.uniform(0.85, 1.1), width, angle + np.deg2rad(rng.uniform(35, 90)))
    elif kind == "contour":
        per_mm = _contours(draw, area, 1 / per_mm, rng.uniform(70, 150))
    elif kind == "stipple":
        _stipple(draw, area)
    inner = area.buffer(-float(rng.uniform(0.6, 1.4)))
    return Field(f"{index + 1} {kind}", work, inner, kind, per_mm)
