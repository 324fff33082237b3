"""Sky, hills, water, banks and fence of the mill plate."""

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from tests.simulate import mill_shapes as layout
from tests.simulate.drawing import (
    Needle,
    arc_guide,
    clipped,
    grain,
    hatch,
    outline_stroke,
    smooth_curve,
    straight_guide,
    stroke,
)
from tests.simulate.mill_tools import BLACK, BURR, DEEP, FINE, LIGHT, MIDDLE, inside, parts
from tests.simulate.noise import smooth_field
from tests.simulate.plate import Stroke


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
        strokes += [outline_stroke(piece, FINE, rng, 0.05) for piece in inside(edge, free)]
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
    strokes += [outline_stroke(piece, LIGHT, rng, 0.03) for piece in inside(crest, free.buffer(0.15))]
    return strokes


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
