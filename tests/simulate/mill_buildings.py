"""Mill, wheel and bridge of the mill plate."""

import itertools

import numpy as np
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tests.simulate import mill_shapes as layout
from tests.simulate.drawing import Needle, arc_guide, clipped, hatch, outline_stroke, straight_guide
from tests.simulate.mill_tools import BLACK, DEEP, LIGHT, MIDDLE, parts
from tests.simulate.noise import smooth_field
from tests.simulate.plate import Stroke

BURIN = Needle(88, 0.92, "burin", taper_mm=0.9, swell=0.45)


def _edges(shape: Polygon, needle: Needle, rng: np.random.Generator, free: BaseGeometry) -> list[Stroke]:
    """Return the sides of a polygon, each drawn by itself and a little past its corners, where they are seen."""
    points = np.array(shape.exterior.coords)
    strokes = []
    for a, b in itertools.pairwise(points):
        past = (b - a) / np.hypot(*(b - a)) * rng.uniform(0.0, 0.25)
        for part in parts(free):
            for piece in clipped(np.array([a - past, b + past]), part):
                strokes.append(outline_stroke(piece, needle, rng, 0.025))
    return strokes


def _openings(rng: np.random.Generator, free: BaseGeometry) -> list[Stroke]:
    """Return door and windows: frames, black inside, bars left white."""
    strokes: list[Stroke] = []
    for shape in (layout.DOOR, *layout.WINDOWS):
        strokes += _edges(shape, DEEP, rng, free)
        x0, y0, x1, y1 = shape.bounds
        dark = shape.buffer(-0.12)
        if shape is not layout.DOOR:
            bars = box((x0 + x1) / 2 - 0.09, y0, (x0 + x1) / 2 + 0.09, y1)
            bars = bars.union(box(x0, (y0 + y1) / 2 - 0.09, x1, (y0 + y1) / 2 + 0.09))
            dark = dark.difference(bars)
        for part in parts(dark):
            strokes += hatch(part, straight_guide(part, 48), 0.17, DEEP, rng)
            strokes += hatch(part, straight_guide(part, 112), 0.19, DEEP, rng)
            strokes += hatch(part, straight_guide(part, 82), 0.24, BLACK, rng)
    return strokes


def _stones(shape: BaseGeometry, courses_mm: float, rng: np.random.Generator, share: float) -> list[Stroke]:
    """Return some joints of rough masonry: broken level courses and short uprights."""
    x0, y0, x1, y1 = shape.bounds
    strokes = []
    for y in np.arange(y0 + courses_mm, y1, courses_mm):
        x = x0 + rng.uniform(0, 1)
        while x < x1:
            length = rng.uniform(0.8, 2.2)
            if rng.uniform() < share:
                course = np.array([(x, y + rng.normal(0, 0.08)), (x + length, y + rng.normal(0, 0.08))])
                upright = np.array(
                    [(x + length, y), (x + length + rng.normal(0, 0.05), y + courses_mm * 0.9)]
                )
                for line in (course, upright):
                    for part in parts(shape):
                        strokes += [outline_stroke(p, LIGHT, rng, 0.04) for p in clipped(line, part)]
            x += length
    return strokes


def draw_mill(free: BaseGeometry, rng: np.random.Generator) -> list[Stroke]:
    """Return the mill: sunlit wall in open lines, gable in close cross-hatching, roof in courses."""
    strokes: list[Stroke] = []
    holes = shapely.union_all([layout.DOOR, *layout.WINDOWS])
    wall = layout.LONG_WALL.difference(layout.ROOF).difference(holes).intersection(free)

    def wall_tone(points: np.ndarray) -> np.ndarray:
        x, y = points.T
        eaves = 0.55 * np.exp(-(((y - 25.0) / 1.1) ** 2))
        return np.asarray(
            0.40 + 0.010 * (x - 17) + eaves + 0.012 * (y - 30) + 0.12 * smooth_field(points, 2.2, [51])
        )

    for part in parts(wall):
        strokes += hatch(
            part, arc_guide(part, 52, 0.015), 0.36, MIDDLE, rng, tone=wall_tone, threshold=0.22, lift_mm=9
        )
        strokes += hatch(
            part, straight_guide(part, 8), 0.30, LIGHT, rng, tone=wall_tone, threshold=0.64, lift_mm=6
        )
    strokes += _stones(wall, 0.95, rng, 0.30)

    gable = layout.GABLE.difference(holes).difference(layout.EAVES).intersection(free)

    def gable_tone(points: np.ndarray) -> np.ndarray:
        x, y = points.T
        return np.asarray(0.82 - 0.012 * (y - 28) + 0.02 * (36 - x) + 0.07 * smooth_field(points, 2.0, [53]))

    for part in parts(gable):
        strokes += hatch(part, straight_guide(part, 128), 0.235, DEEP, rng, tone=gable_tone, threshold=0.30)
        strokes += hatch(part, straight_guide(part, 62), 0.25, DEEP, rng, tone=gable_tone, threshold=0.40)
        strokes += hatch(
            part, straight_guide(part, 93), 0.30, MIDDLE, rng, tone=gable_tone, threshold=0.82, lift_mm=4
        )
    strokes += _roof(free, rng)
    strokes += _openings(rng, free)
    for shape, needle in (
        (layout.LONG_WALL, DEEP),
        (layout.GABLE, DEEP),
        (layout.EAVES, BURIN),
        (layout.CHIMNEY, DEEP),
    ):
        strokes += _edges(shape, needle, rng, free)
    return strokes


def _roof(free: BaseGeometry, rng: np.random.Generator) -> list[Stroke]:
    """Return the roof: strokes down the slope, courses across, ragged lower edge; and the chimney."""
    strokes: list[Stroke] = []
    roof = layout.ROOF.difference(layout.CHIMNEY).intersection(free)

    def tone(points: np.ndarray) -> np.ndarray:
        x, y = points.T
        patch = 0.16 * smooth_field(points, 1.5, [57])
        return np.asarray(0.55 + 0.035 * (20 - y) + 0.006 * (x - 25) + patch)

    for part in parts(roof):
        strokes += hatch(
            part, straight_guide(part, 59), 0.27, MIDDLE, rng, tone=tone, threshold=0.20, lift_mm=3.5
        )
        strokes += hatch(
            part, arc_guide(part, 3.8, -0.01), 0.72, DEEP, rng, tone=tone, threshold=0.25, lift_mm=3
        )
        strokes += hatch(part, straight_guide(part, 30), 0.30, MIDDLE, rng, tone=tone, threshold=0.66)
    strokes += _edges(layout.ROOF, BURIN, rng, free.difference(layout.CHIMNEY))
    chimney = layout.CHIMNEY.intersection(free)
    shadow = chimney.intersection(box(25.7, 11, 28, 18))
    for part in parts(chimney):
        strokes += hatch(part, straight_guide(part, 4), 0.36, LIGHT, rng)
    for part in parts(shadow):
        strokes += hatch(part, straight_guide(part, 58), 0.2, DEEP, rng)
    return strokes


def draw_wheel(rng: np.random.Generator) -> list[Stroke]:
    """Return the wheel: two rims, spokes, paddles, dark inside on the shadow side."""
    strokes: list[Stroke] = []
    centre, (rx, ry) = layout.WHEEL_CENTRE, layout.WHEEL_RADII
    for scale, needle in ((1.0, BLACK), (0.90, DEEP), (0.66, MIDDLE), (0.14, BURIN)):
        for start in (20, 200):
            strokes.append(
                outline_stroke(
                    layout.ellipse(centre, rx * scale, ry * scale, start=start, stop=start + 185), needle, rng
                )
            )
    for k in range(16):
        angle = 2 * np.pi * k / 16 + 0.2
        direction = np.array([rx * np.cos(angle), -ry * np.sin(angle)])
        middle = np.array(centre)
        strokes.append(
            outline_stroke(np.array([middle + 0.66 * direction, middle + direction]), BURIN, rng, 0.02)
        )
        aside = np.array([0.18, 0.10])
        strokes.append(
            outline_stroke(
                np.array([middle + 0.7 * direction + aside, middle + 0.97 * direction + aside]), DEEP, rng
            )
        )
        if k % 2 == 0:
            for side in (-0.10, 0.10):
                strokes.append(
                    outline_stroke(
                        np.array([middle + side, middle + 0.66 * direction + side]), DEEP, rng, 0.02
                    )
                )
    disc = Polygon(layout.ellipse(centre, 0.66 * rx, 0.66 * ry))
    rim = Polygon(layout.ellipse(centre, rx, ry)).difference(disc)
    for part in parts(disc):
        strokes += hatch(part, straight_guide(part, 128), 0.26, DEEP, rng)
        strokes += hatch(part, straight_guide(part, 62), 0.32, MIDDLE, rng)
    for part in parts(rim.intersection(box(centre[0] - 0.5, centre[1] - 6, centre[0] + 6, centre[1] + 6))):
        strokes += hatch(part, straight_guide(part, 40), 0.22, DEEP, rng)
    return strokes


def draw_bridge(free: BaseGeometry, rng: np.random.Generator) -> list[Stroke]:
    """Return the bridge: masonry shaded with lines round the arches, black under the vaults."""
    strokes: list[Stroke] = []
    face = layout.BRIDGE.intersection(free)

    def tone(points: np.ndarray) -> np.ndarray:
        x, y = points.T
        ring = np.zeros(len(points))
        for (cx, cy), rx, ry in layout.ARCHES:
            r = np.hypot((x - cx) / rx, (y - cy) / ry)
            ring = np.maximum(ring, np.exp(-(((r - 1.0) / 0.16) ** 2)))
        parapet = 0.3 * np.exp(-(((y - layout.deck(x) - 1.3) / 0.5) ** 2))
        return np.asarray(
            0.42 + 0.25 * ring + parapet + 0.010 * (x - 52) + 0.13 * smooth_field(points, 1.8, [61])
        )

    for part in parts(face):
        strokes += hatch(
            part, arc_guide(part, 0, 0.035), 0.31, MIDDLE, rng, tone=tone, threshold=0.28, lift_mm=5
        )
        strokes += hatch(
            part, arc_guide(part, 118, 0.05), 0.30, MIDDLE, rng, tone=tone, threshold=0.50, lift_mm=4
        )
        strokes += hatch(part, straight_guide(part, 64), 0.27, DEEP, rng, tone=tone, threshold=0.74)
    strokes += _stones(face, 0.9, rng, 0.4)
    for (cx, cy), rx, ry in layout.ARCHES:
        for scale, needle in ((1.0, BLACK), (1.17, DEEP)):
            arch = layout.ellipse((cx, cy), rx * scale, ry * scale, start=2, stop=178)
            for part in parts(layout.BRIDGE_MASS.intersection(free)):
                strokes += [outline_stroke(piece, needle, rng, 0.03) for piece in clipped(arch, part)]
        for angle in np.deg2rad(np.arange(8, 176, 11)):
            ray = np.array([(cx + s * rx * np.cos(angle), cy - s * ry * np.sin(angle)) for s in (1.0, 1.17)])
            strokes.append(outline_stroke(ray, DEEP, rng, 0.02))
        strokes += _vault((cx, cy), rx, ry, free, rng)
    x = np.linspace(45.6, 69.4, 60)
    for lower, needle in ((0.0, BURIN), (0.35, MIDDLE), (1.25, DEEP)):
        line = np.stack((x, layout.deck(x) + lower), axis=1)
        for part in parts(layout.BRIDGE_MASS.buffer(0.2).intersection(free)):
            strokes += [outline_stroke(piece, needle, rng, 0.04) for piece in clipped(line, part)]
    return strokes


def _vault(
    centre: tuple[float, float], rx: float, ry: float, free: BaseGeometry, rng: np.random.Generator
) -> list[Stroke]:
    """Return the dark underside of an arch, seen at its right, bent with the stone."""
    inside = Polygon(layout.ellipse(centre, rx, ry)).intersection(box(0, 0, 70, 43.2))
    seen = Polygon(layout.ellipse((centre[0] - 0.42 * rx, centre[1] + 0.25), 0.95 * rx, 0.92 * ry))
    strokes: list[Stroke] = []
    for part in parts(inside.difference(seen).intersection(free)):
        strokes += hatch(part, arc_guide(part, 70, -0.08), 0.19, DEEP, rng)
        strokes += hatch(part, arc_guide(part, 20, 0.04), 0.20, DEEP, rng)
        strokes += hatch(part, straight_guide(part, 120), 0.26, DEEP, rng)
    for part in parts(inside.intersection(seen).intersection(box(0, 38.5, 70, 43.2)).intersection(free)):
        strokes += hatch(part, straight_guide(part, 0), 0.34, LIGHT, rng, lift_mm=4)
    return strokes


def draw_figure(rng: np.random.Generator) -> list[Stroke]:
    """Return a small figure on the bridge, in a few strokes."""
    x, y = layout.FIGURE
    coat = Polygon(
        [(x - 0.45, y + 1.4), (x - 0.35, y - 0.4), (x, y - 0.7), (x + 0.4, y - 0.35), (x + 0.5, y + 1.4)]
    )
    head = Polygon(layout.ellipse((x + 0.05, y - 1.05), 0.26, 0.34))
    hat = [
        (x - 0.45, y - 1.25),
        (x - 0.15, y - 1.35),
        (x - 0.12, y - 1.62),
        (x + 0.25, y - 1.62),
        (x + 0.5, y - 1.22),
    ]
    strokes = [outline_stroke(np.array(part.exterior.coords), DEEP, rng, 0.01) for part in (coat, head)]
    strokes.append(outline_stroke(np.array(hat), BLACK, rng, 0.01))
    strokes += hatch(coat, straight_guide(coat, 70), 0.15, DEEP, rng)
    strokes += hatch(coat, straight_guide(coat, 130), 0.18, DEEP, rng)
    return strokes
