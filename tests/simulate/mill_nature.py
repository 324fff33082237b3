"""Sky, hills, trees, water and banks of the mill plate."""

import numpy as np
import shapely
from scipy import interpolate
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from tests.simulate import mill_shapes as layout
from tests.simulate.drawing import (
    Needle,
    arc_guide,
    arc_length,
    clipped,
    grain,
    hatch,
    outline_stroke,
    straight_guide,
    stroke,
    wobble,
)
from tests.simulate.noise import smooth_field
from tests.simulate.plate import Stroke

FINE = Needle(17, 0.22, taper_mm=1.6, swell=0.35)
LIGHT = Needle(28, 0.42, taper_mm=1.2, swell=0.35)
MIDDLE = Needle(42, 0.58, taper_mm=0.9, swell=0.35)
DEEP = Needle(64, 0.82, taper_mm=0.7, swell=0.4)
BLACK = Needle(105, 0.95, taper_mm=0.6, swell=0.4)
BURR = Needle(24, 0.32, "drypoint", 0.34, taper_mm=0.7, swell=0.25)


def parts(shape: BaseGeometry) -> list[Polygon]:
    """Return the polygons of a shape, without slivers."""
    return [p for p in getattr(shape, "geoms", [shape]) if isinstance(p, Polygon) and p.area > 0.05]


def draw_sky(free: BaseGeometry, rng: np.random.Generator) -> list[Stroke]:
    """Return a few long cloud lines at upper left and low over the hills; the rest is bare copper."""
    strokes: list[Stroke] = []

    def tone(points: np.ndarray) -> np.ndarray:
        x, y = points.T
        veil = (
            0.75
            - 0.017 * (x - 16)
            - 0.02 * np.abs(y - 8)
            + 0.22 * smooth_field(points * (0.5, 1.0), 3.5, [5])
        )
        low = 0.55 * np.exp(-(((y - 22.2) / 1.6) ** 2)) * (x > 38)
        return np.asarray(np.where(y < 17, veil, low))

    for part in parts(free):
        strokes += hatch(
            part,
            arc_guide(part, 4, 0.012),
            0.52,
            FINE,
            rng,
            tone=tone,
            threshold=0.35,
            lift_mm=14,
            jitter=0.16,
        )
    for centre, rx, ry, a, b in (
        ((41.0, 12.0), 4.4, 2.0, 20, 175), ((46.2, 11.4), 3.4, 2.4, 10, 150), ((51.4, 12.6), 3.2, 1.6, 0, 130),
        ((37.0, 12.9), 2.2, 1.3, 60, 200),
    ):  # fmt: skip
        edge = layout.ellipse(centre, rx, ry, start=a, stop=b)
        edge[:, 1] += 0.22 * np.sin(edge[:, 0] * 4.1)
        strokes += [outline_stroke(piece, FINE, rng, 0.05) for piece in _inside(edge, free)]
        under = Polygon([*edge, (centre[0] - rx, centre[1] + 0.8), (centre[0] + rx, centre[1] + 0.8)]).buffer(
            0
        )
        lower = under.intersection(box(30, centre[1] - 1.0, 60, centre[1] + 0.8)).intersection(free)
        for part in parts(lower):
            strokes += hatch(part, arc_guide(part, 8, 0.02), 0.30, FINE, rng, lift_mm=4)
    for x, y, size in ((57.0, 17.0, 0.8), (59.2, 16.1, 0.6), (61.0, 17.6, 0.5), (55.2, 18.6, 0.45)):
        t = np.linspace(-1, 1, 20)
        bird = np.stack((x + size * t, y - 0.35 * size * np.abs(np.sin(np.pi * t)) + 0.1 * t), axis=1)
        strokes.append(outline_stroke(bird, LIGHT, rng, 0.01))
    return strokes


def _inside(points: np.ndarray, shape: BaseGeometry) -> list[np.ndarray]:
    return [piece for part in parts(shape) for piece in clipped(points, part)]


def draw_hills(free: BaseGeometry, rng: np.random.Generator) -> list[Stroke]:
    """Return the far hills in fine close lines, and their edge against the sky."""
    strokes: list[Stroke] = []

    def tone(points: np.ndarray) -> np.ndarray:
        x, y = points.T
        crest = np.interp(x, *np.array(layout.HILL_LINE.coords).T)
        return np.asarray(0.95 - 0.07 * (y - crest) + 0.20 * smooth_field(points * (0.6, 1.0), 2.6, [8]))

    for part in parts(free):
        strokes += hatch(
            part, arc_guide(part, 3, 0.02), 0.165, FINE, rng, tone=tone, threshold=0.40, lift_mm=9
        )
        strokes += hatch(
            part, straight_guide(part, 152), 0.21, FINE, rng, tone=tone, threshold=0.80, lift_mm=5
        )
    crest = np.array(layout.HILL_LINE.segmentize(0.5).coords)
    crest[:, 1] += 0.10 * np.sin(crest[:, 0] * 1.7) - 0.06 * np.abs(np.sin(crest[:, 0] * 3.9))
    strokes += [outline_stroke(piece, LIGHT, rng, 0.03) for piece in _inside(crest, free.buffer(0.15))]
    return strokes


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
            for piece in _inside(twig, layout.PICTURE.difference(hidden))
        ]
    for x, y, dx in ((7.0, 45.2, -1.6), (8.9, 45.6, -0.7), (11.4, 45.7, 0.8), (13.2, 45.4, 1.7)):
        root = smooth_curve([(x, y - 1.6), (x + 0.3 * dx, y - 0.3), (x + dx, y + 0.5)])
        strokes.append(outline_stroke(root, DEEP, rng, 0.05))
    return strokes


def smooth_curve(points: list[tuple[float, float]]) -> np.ndarray:
    """Return a smooth course through points, a point every 0.2 mm."""
    at = np.array(points)
    along = arc_length(at)
    return np.asarray(
        interpolate.make_interp_spline(along, at, k=min(3, len(at) - 1))(np.arange(0, along[-1], 0.2))
    )


def draw_fence(rng: np.random.Generator) -> list[Stroke]:
    """Return a fence on the near bank: posts with a dark side, two rails."""
    strokes: list[Stroke] = []
    feet = np.array(layout.FENCE)
    tops = feet - (0.1, 2.3) + rng.normal(0, 0.12, feet.shape)
    for foot, top in zip(feet, tops, strict=True):
        strokes.append(outline_stroke(np.array([foot, top]), BLACK, rng, 0.03))
        strokes.append(
            outline_stroke(
                np.array([foot + np.array((0.3, 0.05)), top + np.array((0.26, 0.1)), top]), DEEP, rng, 0.02
            )
        )
    for share in (0.30, 0.68):
        rail = smooth_curve(
            [tuple(foot + share * (top - foot)) for foot, top in zip(feet, tops, strict=True)]
        )
        strokes.append(outline_stroke(rail, DEEP, rng, 0.04))
        strokes.append(outline_stroke(rail + np.array((0.0, 0.22)), MIDDLE, rng, 0.04))
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


def draw_river(free: BaseGeometry, rng: np.random.Generator) -> list[Stroke]:
    """Return the water: level lines that break in the light, close and dark under the arches and the mill."""

    def tone(points: np.ndarray) -> np.ndarray:
        x, y = points.T
        arches = np.zeros(len(points))
        for (cx, _), rx, _ in layout.ARCHES:
            arches = np.maximum(
                arches,
                np.exp(-((np.abs(x - cx - 0.3 * rx) / (0.85 * rx)) ** 4)) * np.clip(1.2 - (y - 43) / 4, 0, 1),
            )
        pier = 0.55 * np.exp(-(((x - 60.2) / 1.5) ** 2)) * np.clip(1.2 - (y - 43) / 3.5, 0, 1)
        mill = np.exp(-(((x - 40.5 + 0.75 * (y - 43)) / 3.8) ** 4)) * np.clip(1.25 - (y - 42) / 10, 0, 1)
        shore = 0.5 * np.exp(-np.abs(x - np.interp(y, [43, 46.6, 49, 53.4], [70, 63, 58, 54.5])) / 1.1)
        ripple = 0.15 * smooth_field(points * (0.22, 1.7), 1.2, [29])
        dark = np.maximum.reduce((arches, pier, mill, shore))
        return np.asarray(0.33 + 0.48 * dark + ripple + 0.006 * (y - 43))

    strokes: list[Stroke] = []
    for part in parts(free):
        level = straight_guide(part, 0)
        strokes += hatch(part, level, 0.30, MIDDLE, rng, tone=tone, threshold=0.26, jitter=0.14, lift_mm=7)
        strokes += hatch(part, level, 0.34, DEEP, rng, tone=tone, threshold=0.62, jitter=0.2, lift_mm=5)
        strokes += hatch(
            part, straight_guide(part, 86), 0.27, LIGHT, rng, tone=tone, threshold=0.60, lift_mm=2.5
        )
    return strokes


def grass(
    outline: BaseGeometry, n: int, needles: tuple[Needle, ...], rng: np.random.Generator
) -> list[Stroke]:
    """Return blades of grass growing from inside an outline, longer towards the viewer."""
    x0, y0, x1, y1 = outline.bounds
    strokes = []
    for x, y in rng.uniform((x0, y0), (x1, y1), (n, 2)):
        if not shapely.contains_xy(outline, x, y):
            continue
        tall = (0.7 + 0.12 * (y - 38)) * rng.uniform(0.5, 1.2)
        lean = rng.normal(0.15, 0.45)
        t = np.linspace(0, 1, 14)
        points = np.stack((x + tall * lean * t**1.7, y - tall * t * (1 - 0.12 * t)), axis=1)
        if not shapely.contains_xy(layout.PICTURE, *points[-1]):
            continue
        strokes.append(stroke(points, needles[int(rng.integers(len(needles)))], rng, 1 - t))
    return strokes


def draw_left_bank(free: BaseGeometry, rng: np.random.Generator) -> list[Stroke]:
    """Return the near bank: slope in bent hatching, grass, and drypoint with burr in the lower corner."""

    def tone(points: np.ndarray) -> np.ndarray:
        x, y = points.T
        edge = np.array([layout.RIVER.exterior.distance(p) for p in shapely.points(points)])
        tree = 0.4 * np.exp(-(((x - 13.5) / 6.0) ** 2) - ((y - 44.8) / 1.7) ** 2)
        wall = 0.35 * np.exp(-(((y - 39.8) / 1.1) ** 2)) * (x > 17)
        return np.asarray(
            0.34 + 0.45 * np.exp(-edge / 1.6) + tree + wall + 0.18 * smooth_field(points, 2.0, [33])
        )

    strokes: list[Stroke] = []
    corner = layout.LEFT_BANK.intersection(box(2.6, 46.4, 26.5, 53.4))
    for part in parts(free.difference(corner.buffer(-0.2))):
        strokes += hatch(
            part, arc_guide(part, -14, 0.04), 0.40, MIDDLE, rng, tone=tone, threshold=0.36, lift_mm=4
        )
        strokes += hatch(
            part, arc_guide(part, 30, 0.05), 0.33, DEEP, rng, tone=tone, threshold=0.66, lift_mm=3
        )
    strokes += grass(free, 520, (LIGHT, MIDDLE, MIDDLE, DEEP), rng)
    for part in parts(corner):
        strokes += hatch(part, arc_guide(part, 64, 0.05), 0.85, BURR, rng, jitter=0.22, lift_mm=3.5)
    strokes += grass(corner.buffer(-0.5), 260, (BURR,), rng)
    return strokes


def draw_right_bank(free: BaseGeometry, rng: np.random.Generator) -> list[Stroke]:
    """Return the sandy path in soft ground, with a drawn edge and a few stones."""

    def tone(points: np.ndarray) -> np.ndarray:
        y = points[:, 1]
        edge = np.array([layout.RIVER.exterior.distance(p) for p in shapely.points(points)])
        return np.asarray(
            0.40 + 0.40 * np.exp(-edge / 1.2) + 0.03 * (y - 47) + 0.14 * smooth_field(points, 2.4, [41])
        )

    strokes: list[Stroke] = []
    for part in parts(free):
        strokes += grain(part, 70, rng, tone=tone, size_um=52)
    shore = np.array([(69.4, 45.0), (63.0, 46.6), (58.0, 49.0), (54.5, 53.4)])
    strokes += [outline_stroke(piece, DEEP, rng, 0.10) for piece in clipped(shore, layout.PICTURE)]
    for x, y, r in ((59.4, 49.5, 0.7), (57.6, 51.3, 0.9), (62.4, 47.6, 0.45), (56.6, 52.7, 0.5)):
        edge = np.array(layout.bumpy((x, y), r, rng, 0.08).exterior.coords)
        strokes.append(outline_stroke(edge, MIDDLE, rng, 0.03))
        shadow = Polygon(edge).intersection(box(x - 0.2 * r, y - r, x + r, y + r))
        for part in parts(shadow):
            strokes += hatch(part, straight_guide(part, 48), 0.2, MIDDLE, rng)
    reeds = LineString(shore).buffer(0.5)
    strokes += grass(reeds, 500, (MIDDLE, DEEP), rng)
    return strokes
