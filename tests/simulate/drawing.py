"""Drawing with a needle: hatching along guide curves, outlines, grain; all with the irregularity of a hand."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from scipy import interpolate
from shapely.geometry import LineString, Polygon

from tests.simulate.plate import Kind, Stroke

ToneAt = Callable[[np.ndarray], np.ndarray]
"""Plate points (n, 2) -> wanted darkness there, 0 to 1."""


@dataclass(frozen=True, slots=True)
class Needle:
    """The tool and how it is held."""

    groove_um: float = 45.0
    depth: float = 0.6
    kind: Kind = "etched"
    burr: float = 0.0
    taper_mm: float = 0.8
    """Length over which a stroke swells from its beginning and dies at its end."""
    swell: float = 0.25
    """How much wider the middle of a stroke, or its dark part, is than its thin part."""


def wobble(length_mm: np.ndarray, rng: np.random.Generator, size_mm: float, scale_mm: float) -> np.ndarray:
    """Return a slow random deviation along a stroke, (n,) in mm."""
    knots = int(length_mm[-1] / scale_mm) + 4
    values = rng.normal(0.0, size_mm, knots)
    at = length_mm / scale_mm + rng.uniform(0, 1)
    i = at.astype(int)
    t = at - i
    t = t * t * (3 - 2 * t)
    i = np.minimum(i, knots - 2)
    return np.asarray(values[i] * (1 - t) + values[i + 1] * t)


def arc_length(points: np.ndarray) -> np.ndarray:
    """Return the length along a polyline at its points."""
    return np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))


def stroke(
    points: np.ndarray, needle: Needle, rng: np.random.Generator, weight: np.ndarray | None = None
) -> Stroke:
    """Return a stroke with tapered ends, swelled by `weight` (0 to 1 along it)."""
    along = arc_length(points)
    ends = np.minimum(along, along[-1] - along) / max(min(needle.taper_mm, along[-1] / 2.2), 1e-3)
    shape = 0.35 + 0.65 * np.sin(np.clip(ends, 0, 1) * np.pi / 2)
    swell = 1 + needle.swell * ((weight if weight is not None else np.full(len(along), 0.5)) * 2 - 1)
    hand = (1 + wobble(along, rng, 0.06, 0.8)) * rng.normal(1.0, 0.05)
    depth = float(np.clip(needle.depth * rng.normal(1.0, 0.04), 0.03, 1.0))
    return Stroke(
        points, np.maximum(needle.groove_um * shape * swell * hand, 6.0), depth, needle.kind, needle.burr
    )


def _runs(wanted: np.ndarray) -> list[slice]:
    """Return the runs of true values that hold at least four points."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], wanted.astype(np.int8), [0]))))
    return [slice(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= 4]


def hatch(
    outline: Polygon,
    guide: np.ndarray,
    pitch_mm: float,
    needle: Needle,
    rng: np.random.Generator,
    *,
    tone: ToneAt | None = None,
    threshold: float = 0.0,
    full: float = 1.0,
    jitter: float = 0.10,
    lift_mm: float = 0.0,
) -> list[Stroke]:
    """Return copies of a guide curve, side by side, inside an outline.

    Parameters
    ----------
    outline : Polygon
        Where the hatching lies. [plate mm]
    guide : (n, 2)
        Course of one line; it is copied along the normal of its chord, and must be longer than the outline is wide.
    pitch_mm : float
    needle : Needle
    rng : Generator
    tone, threshold, full
        Lines are drawn only where ``tone > threshold`` (with some play of the hand), at full swell where it is `full`.
    jitter : float
        Spread of a line's place, in pitches.
    lift_mm : float
        Mean length after which the needle is lifted, 0 = never.
    """
    along = arc_length(guide)
    fine = np.stack([np.interp(np.arange(0, along[-1], 0.12), along, guide[:, k]) for k in (0, 1)], axis=1)
    chord = guide[-1] - guide[0]
    normal = np.array([-chord[1], chord[0]]) / np.hypot(*chord)
    corners = np.array(outline.exterior.coords)
    reach = (corners - guide[0]) @ normal
    bulge = (fine - guide[0]) @ normal
    low, high = reach.min() - bulge.max(), reach.max() - bulge.min()
    strokes: list[Stroke] = []
    for k in np.arange(np.floor(low / pitch_mm), np.ceil(high / pitch_mm) + 1):
        length = np.arange(len(fine)) * 0.12
        side = k * pitch_mm + rng.normal(0, jitter * pitch_mm) + wobble(length, rng, 0.10 * pitch_mm, 3.0)
        line = fine + side[:, None] * normal
        wanted = shapely.contains_xy(outline, line[:, 0], line[:, 1])
        if not wanted.any():
            continue
        dark = np.ones(len(line))
        if tone is not None:
            dark = np.clip(
                (tone(line) + wobble(length, rng, 0.03, 1.5) - threshold) / (full - threshold), -1, 1
            )
            wanted &= dark > 0
        if lift_mm > 0:
            gaps = rng.uniform(0, length[-1], rng.poisson(length[-1] / lift_mm))
            for gap in gaps:
                wanted[(length > gap) & (length < gap + 0.3)] = False
        for run in _runs(wanted):
            a = max(run.start + int(rng.integers(-1, 2)), 0)
            piece = slice(a, run.stop)
            strokes.append(stroke(line[piece], needle, rng, np.clip(dark[piece], 0, 1)))
    return strokes


def straight_guide(outline: Polygon, angle_deg: float) -> np.ndarray:
    """Return a straight guide across an outline; angle counter-clockwise from x."""
    angle = np.deg2rad(angle_deg)
    middle = np.array(outline.centroid.coords[0])
    x0, y0, x1, y1 = outline.bounds
    reach = np.hypot(x1 - x0, y1 - y0)
    direction = np.array([np.cos(angle), -np.sin(angle)])
    return np.array([middle - direction * reach, middle + direction * reach])


def arc_guide(outline: Polygon, angle_deg: float, bend: float) -> np.ndarray:
    """Return a guide bent to one side by `bend` of its length (sagitta over chord)."""
    ends = straight_guide(outline, angle_deg)
    t = np.linspace(0, 1, 60)[:, None]
    chord = ends[1] - ends[0]
    normal = np.array([-chord[1], chord[0]])
    return np.asarray(ends[0] + t * chord + normal * (bend * 4 * t * (1 - t)))


def outline_stroke(
    points: np.ndarray, needle: Needle, rng: np.random.Generator, shake_mm: float = 0.03
) -> Stroke:
    """Return a contour drawn through points, with a slightly shaking hand."""
    along = arc_length(points)
    n = max(4, int(along[-1] / 0.12))
    at = np.linspace(0, along[-1], n)
    line = np.stack([np.interp(at, along, points[:, k]) for k in (0, 1)], axis=1)
    shake = np.stack([wobble(at, rng, shake_mm, 0.7) for _ in (0, 1)], axis=1)
    return stroke(line + shake, needle, rng, np.clip(0.5 + wobble(at, rng, 0.3, 2.0), 0, 1))


def grain(
    outline: Polygon,
    per_mm2: float,
    rng: np.random.Generator,
    tone: ToneAt | None = None,
    size_um: float = 55.0,
) -> list[Stroke]:
    """Return the grain of a soft ground: pits and short dashes in the direction of a laid cloth, denser where dark."""
    x0, y0, x1, y1 = outline.bounds
    n = rng.poisson(per_mm2 * (x1 - x0) * (y1 - y0))
    at = rng.uniform((x0, y0), (x1, y1), (n, 2))
    keep = shapely.contains_xy(outline, at[:, 0], at[:, 1])
    # the weave: grain sits on the threads of the cloth that was pressed into the ground
    u = at @ np.array([0.94, 0.34])
    v = at @ np.array([-0.34, 0.94])
    weave = 0.5 + 0.25 * np.cos(2 * np.pi * u / 0.42) + 0.25 * np.cos(2 * np.pi * v / 0.37)
    darkness = tone(at) if tone is not None else np.full(n, 0.6)
    keep &= rng.uniform(0, 1, n) < (0.25 + 0.75 * weave) * darkness
    grains = []
    for x, y in at[keep]:
        angle = rng.normal(0.35, 0.5)
        half = rng.exponential(0.045) * np.array([np.cos(angle), np.sin(angle)])
        groove = np.full(2, float(np.clip(rng.normal(size_um, 0.35 * size_um), 15, 160)))
        middle = np.array((x, y))
        points = np.array([middle - half, middle + half])
        grains.append(Stroke(points, groove, float(rng.uniform(0.15, 0.5)), "soft-ground"))
    return grains


def clipped(points: np.ndarray, outline: Polygon) -> list[np.ndarray]:
    """Return the parts of a polyline inside an outline."""
    inside = LineString(points).intersection(outline)
    parts = getattr(inside, "geoms", [inside])
    return [np.array(part.coords) for part in parts if part.geom_type == "LineString" and part.length > 0.15]


def smooth_curve(points: list[tuple[float, float]]) -> np.ndarray:
    """Return a smooth course through points, a point every 0.2 mm."""
    at = np.array(points)
    along = arc_length(at)
    return np.asarray(
        interpolate.make_interp_spline(along, at, k=min(3, len(at) - 1))(np.arange(0, along[-1], 0.2))
    )
