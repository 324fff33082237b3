"""The layout of the mill plate: silhouettes in plate mm, from near to far."""

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon, box

WIDTH_MM, HEIGHT_MM = 72.0, 56.0
PICTURE = box(2.6, 2.4, 69.4, 53.4)
"""Inside the framing margin of bare copper."""

LONG_WALL = Polygon([(17.0, 25.2), (31.0, 24.2), (31.0, 39.2), (17.0, 38.2)])
GABLE = Polygon([(31.0, 24.2), (36.0, 15.6), (41.2, 24.8), (41.2, 39.6), (31.0, 39.2)])
ROOF = Polygon([(15.9, 25.9), (21.8, 16.0), (36.3, 15.0), (30.9, 24.9)])
EAVES = Polygon([(36.0, 15.0), (36.6, 15.1), (42.4, 25.2), (41.3, 25.6), (36.0, 16.6), (35.6, 16.0)])
CHIMNEY = Polygon([(24.4, 17.2), (24.4, 12.2), (27.0, 12.0), (27.0, 17.0)])
DOOR = Polygon([(19.6, 31.2), (22.3, 31.1), (22.3, 38.6), (19.6, 38.4)])
WINDOWS = (box(24.6, 28.2, 26.5, 31.4), box(28.0, 28.0, 29.7, 31.2), box(34.9, 21.6, 37.1, 25.0))
WHEEL_CENTRE = (43.2, 37.2)
WHEEL_RADII = (3.3, 5.6)


def ellipse(
    centre: tuple[float, float], rx: float, ry: float, *, start: float = 0.0, stop: float = 360.0
) -> np.ndarray:
    """Return points of an ellipse from one angle to another, counter-clockwise as seen. [plate mm]"""
    t = np.deg2rad(np.linspace(start, stop, 90))
    return np.stack((centre[0] + rx * np.cos(t), centre[1] - ry * np.sin(t)), axis=1)


def bumpy(
    centre: tuple[float, float], radius: float, rng: np.random.Generator, bumps: float = 0.12
) -> Polygon:
    """Return a clump of leaves: a circle with a lobed edge."""
    t = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    r = radius * np.ones_like(t)
    for k in (3, 5, 8, 13):
        r += radius * bumps * rng.normal(0, 1) / np.sqrt(k) * np.cos(k * t + rng.uniform(0, 6.3))
    return Polygon(np.stack((centre[0] + r * np.cos(t), centre[1] + 0.85 * r * np.sin(t)), axis=1)).buffer(0)


WHEEL = Polygon(ellipse(WHEEL_CENTRE, *WHEEL_RADII))
MILL = shapely.union_all([LONG_WALL, GABLE, ROOF, EAVES, CHIMNEY])

ARCHES = (((54.2, 43.0), 4.9, 5.6), ((65.2, 43.0), 3.6, 4.7))
"""Centre and radii of the two openings of the bridge."""


def deck(x: np.ndarray) -> np.ndarray:
    """Return the height of the bridge's parapet, y at x. [mm]"""
    return np.asarray(31.4 + 0.0085 * (x - 58.0) ** 2)


def _bridge() -> Polygon:
    x = np.linspace(45.6, 69.4, 60)
    return Polygon([*zip(x, deck(x), strict=True), (69.4, 43.6), (45.2, 43.2)])


BRIDGE_MASS = _bridge()
OPENINGS = shapely.union_all([Polygon(ellipse(c, rx, ry)) for c, rx, ry in ARCHES])
BRIDGE = BRIDGE_MASS.difference(OPENINGS)

RIVER = Polygon([
    (41.5, 42.0), (45.2, 43.0), (69.4, 43.4), (69.4, 45.2), (63.0, 46.6), (58.0, 49.0), (54.5, 53.4), (27.5, 53.4),
    (32.0, 48.6), (36.0, 45.0),
])  # fmt: skip
RIGHT_BANK = Polygon([(69.4, 45.0), (63.0, 46.6), (58.0, 49.0), (54.5, 53.4), (69.4, 53.4)])
LEFT_BANK = Polygon([
    (2.6, 40.6), (9.0, 39.2), (17.0, 38.2), (31.0, 39.2), (41.2, 39.6), (41.5, 42.0), (36.0, 45.0), (32.0, 48.6),
    (27.5, 53.4), (2.6, 53.4),
])  # fmt: skip

CLUMPS = (
    (9.0, 10.2, 5.0), (5.2, 15.6, 3.3), (14.6, 12.6, 3.9), (10.2, 17.2, 4.4), (5.4, 20.9, 2.6), (15.4, 18.8, 3.1),
    (12.6, 6.4, 3.0), (5.6, 8.6, 2.9),
)  # fmt: skip
"""Clumps of the near tree: x, y, radius."""


def crown(rng: np.random.Generator) -> list[Polygon]:
    """Return the clumps of the near tree."""
    return [bumpy((x, y), radius, rng) for x, y, radius in CLUMPS]


TRUNK_SIDES = (
    [(6.6, 45.4), (7.6, 43.6), (8.1, 41.0), (8.6, 36.0), (8.5, 30.0), (7.9, 25.0), (7.1, 21.6)],
    [(8.2, 21.4), (8.8, 24.0), (9.5, 26.0), (10.1, 24.2), (10.8, 21.8)],
    [(11.9, 21.8), (11.2, 25.0), (10.8, 29.0), (10.9, 36.0), (11.5, 41.0), (12.3, 43.4), (13.7, 45.6)],
)
"""Left side, fork and right side of the near tree."""
TRUNK = Polygon([*TRUNK_SIDES[0], *TRUNK_SIDES[1], *TRUNK_SIDES[2]])
BOUGHS = (
    [(7.6, 22.4), (6.6, 19.0), (5.4, 16.4), (4.2, 14.6)], [(8.0, 21.8), (7.8, 18.4), (8.6, 13.4), (8.6, 8.6)],
    [(11.2, 22.4), (12.4, 19.0), (14.2, 14.4), (15.4, 11.6)], [(10.9, 22.2), (11.2, 17.6), (11.9, 11.0), (12.5, 6.2)],
    [(7.3, 22.8), (5.8, 21.8), (4.2, 21.6)], [(11.6, 23.4), (13.6, 21.0), (16.4, 19.4)],
)  # fmt: skip
"""Boughs of the near tree, from the trunk outwards."""
FIGURE = (64.7, 30.4)
"""Where a small figure leans on the parapet of the bridge."""
FENCE = ((15.4, 42.9), (18.9, 43.0), (22.4, 43.25), (25.9, 43.6), (29.4, 44.1))
"""Feet of the posts of a fence on the near bank."""

HILL_LINE = LineString([
    (2.6, 30.0), (12, 29.0), (17, 27.4), (24, 26.6), (41, 26.2), (47, 25.0), (54, 24.2), (60, 25.0), (69.4, 26.6),
])  # fmt: skip
HILLS = Polygon([*HILL_LINE.coords, (69.4, 34.0), (41.0, 40.0), (2.6, 41.0), (2.6, 30.0)])
POPLARS = ((46.2, 19.4, 1.1), (48.6, 17.6, 1.25), (51.2, 20.6, 1.0), (67.2, 21.6, 1.3))
"""Far trees: x, y of the tip, half width."""


def poplar(x: float, top: float, half: float) -> Polygon:
    """Return the silhouette of a far tree down to the parapet."""
    foot = float(deck(np.array(x))) + 0.3
    t = np.linspace(0, 1, 24)
    wide = half * np.sin(np.pi * np.minimum(t * 1.15, 1) ** 0.7) + 0.12
    y = top + (foot - top) * t
    return Polygon([*zip(x - wide, y, strict=True), *zip((x + wide)[::-1], y[::-1], strict=True)]).buffer(0)
