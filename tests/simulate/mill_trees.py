"""The near tree and the far trees of the mill plate."""

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from tests.simulate import mill_shapes as layout
from tests.simulate.drawing import (
    Needle,
    arc_guide,
    arc_length,
    hatch,
    outline_stroke,
    smooth_curve,
    straight_guide,
    stroke,
    wobble,
)
from tests.simulate.mill_tools import BLACK, DEEP, LIGHT, MIDDLE, inside, parts
from tests.simulate.noise import smooth_field
from tests.simulate.plate import Stroke


def leaf_scribble(at: np.ndarray, size_mm: float, needle: Needle, rng: np.random.Generator) -> Stroke:
    """Return a run of small loops, as leaves are scribbled."""
    loops = int(rng.integers(2, 5))
    t = np.linspace(0, loops * 2 * np.pi, 14 * loops)
    turn = rng.uniform(-0.6, 0.6)
    x = size_mm * (t / (2 * np.pi) - loops / 2) * 0.62 + 0.34 * size_mm * np.sin(t + rng.uniform(0, 6))
    y = 0.36 * size_mm * np.cos(t) * (1 + 0.3 * np.sin(0.5 * t))
    points = at + np.stack((x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)), axis=1)
    return stroke(points, needle, rng, np.clip(0.5 + wobble(arc_length(points), rng, 0.35, 0.8), 0, 1))


def foliage(clumps: list[Polygon], per_mm2: float, size_mm: float, rng: np.random.Generator) -> list[Stroke]:
    """Return leaves in clumps lit from the upper left: scribbles, hatched shadow, burr in the deepest places."""
    strokes: list[Stroke] = []
    whole = shapely.union_all(clumps).intersection(layout.PICTURE)

    def tone(points: np.ndarray) -> np.ndarray:
        best = np.full(len(points), 0.25)
        for clump in clumps:
            x, y = clump.centroid.coords[0]
            r = np.sqrt(clump.area / np.pi)
            inside = shapely.contains_xy(clump, points[:, 0], points[:, 1])
            shade = 0.48 + 0.42 * ((points[:, 0] - x) * 0.55 + (points[:, 1] - y) * 0.83) / r
            best = np.where(inside, shade, best)
        return np.asarray(best + 0.14 * smooth_field(points, 0.9, [13]))

    x0, y0, x1, y1 = whole.bounds
    at = rng.uniform((x0, y0), (x1, y1), (rng.poisson(per_mm2 * (x1 - x0) * (y1 - y0)), 2))
    dark = tone(at)
    chosen = shapely.contains_xy(whole, at[:, 0], at[:, 1]) & (rng.uniform(0.12, 1.0, len(at)) < dark)
    for point, value in zip(at[chosen], dark[chosen], strict=True):
        needle = LIGHT if value < 0.42 else MIDDLE if value < 0.78 else DEEP
        strokes.append(leaf_scribble(point, size_mm * rng.uniform(0.7, 1.3), needle, rng))
    for part in parts(whole):
        guide = arc_guide(part, 38, 0.05)
        strokes += hatch(part, guide, 0.27, MIDDLE, rng, tone=tone, threshold=0.52, jitter=0.15, lift_mm=5)
        strokes += hatch(
            part, arc_guide(part, 62, 0.03), 0.25, DEEP, rng, tone=tone, threshold=0.78, jitter=0.15
        )
    return strokes


def draw_tree(rng: np.random.Generator) -> list[Stroke]:
    """Return the near tree: leaves, then trunk and boughs with shading round the form."""
    clumps = layout.crown(rng)
    strokes = foliage(clumps, 6.0, 0.75, rng)
    bare = layout.TRUNK.difference(shapely.union_all(clumps).buffer(-0.9))

    def round_tone(points: np.ndarray) -> np.ndarray:
        x, y = points.T
        middle = 9.6 + 0.02 * (y - 30)
        return np.asarray(
            0.45 + 0.42 * (x - middle) + 0.05 * (y < 26) + 0.12 * smooth_field(points, 0.8, [21])
        )

    for part in parts(bare):
        strokes += hatch(
            part, arc_guide(part, -18, -0.10), 0.24, MIDDLE, rng, tone=round_tone, threshold=0.22
        )
        strokes += hatch(
            part, straight_guide(part, 84), 0.26, DEEP, rng, tone=round_tone, threshold=0.55, lift_mm=4
        )
        strokes += hatch(part, straight_guide(part, 48), 0.22, DEEP, rng, tone=round_tone, threshold=0.85)
    for side, needle in zip(layout.TRUNK_SIDES, (MIDDLE, DEEP, BLACK), strict=True):
        strokes.append(outline_stroke(smooth_curve(side), needle, rng, 0.07))
    hidden = shapely.union_all(clumps).buffer(-0.5)
    for bough in layout.BOUGHS:
        course = smooth_curve(bough)
        limb = Needle(150, 0.9, taper_mm=4.0, swell=0.3)
        strokes.append(outline_stroke(course[: int(len(course) * rng.uniform(0.55, 0.9))], limb, rng, 0.09))
        twig = course + np.array((0.22, 0.05))
        strokes += [
            outline_stroke(piece, DEEP, rng, 0.08)
            for piece in inside(twig, layout.PICTURE.difference(hidden))
        ]
    for x, y, dx in ((7.0, 45.2, -1.6), (8.9, 45.6, -0.7), (11.4, 45.7, 0.8), (13.2, 45.4, 1.7)):
        root = smooth_curve([(x, y - 1.6), (x + 0.3 * dx, y - 0.3), (x + dx, y + 0.5)])
        strokes.append(outline_stroke(root, DEEP, rng, 0.05))
    return strokes


def draw_poplars(free: BaseGeometry, rng: np.random.Generator) -> list[Stroke]:
    """Return the far trees behind the bridge, in light scribbles."""
    strokes: list[Stroke] = []
    for x, top, half in layout.POPLARS:
        shape = layout.poplar(x, top, half).intersection(free)

        def tone(points: np.ndarray, x: float = x, half: float = half) -> np.ndarray:
            return np.asarray(0.55 + 0.4 * (points[:, 0] - x) / half + 0.15 * smooth_field(points, 0.7, [17]))

        for part in parts(shape):
            strokes += hatch(
                part, arc_guide(part, 72, 0.02), 0.19, LIGHT, rng, tone=tone, threshold=0.30, lift_mm=2.5
            )
            strokes += hatch(part, straight_guide(part, 40), 0.24, LIGHT, rng, tone=tone, threshold=0.70)
            n = int(part.area * 3)
            at = rng.uniform(part.bounds[:2], part.bounds[2:], (n, 2))
            for point in at[shapely.contains_xy(part, at[:, 0], at[:, 1])]:
                strokes.append(leaf_scribble(point, 0.42, LIGHT, rng))
    return strokes
