"""A small etched plate: a boat drawn up in a cove under a headland, 44 x 32 mm, for the choice of a standard."""

import numpy as np
from shapely.geometry import Polygon, box

from tests.simulate.drawing import (
    Needle,
    arc_guide,
    clipped,
    grain,
    hatch,
    outline_stroke,
    smooth_curve,
    straight_guide,
)
from tests.simulate.plate import Plate, PlateRegion, Stroke

WIDTH_MM, HEIGHT_MM = 44.0, 32.0
HEADLAND = Polygon(
    [(1.5, 13.6), (4, 9.5), (8, 7.2), (12.5, 7.8), (16, 10.2), (19.5, 11.6), (21.5, 14.2), (1.5, 14.4)]
)
HULL = Polygon(
    [
        (13.5, 19.4),
        (17, 20.2),
        (24, 20.6),
        (30, 19.6),
        (31.8, 18.6),
        (30.2, 23.2),
        (26, 25),
        (18.4, 24.8),
        (15, 23),
    ]
)
SAIL = Polygon([(23.2, 4.2), (30.2, 17.4), (23.4, 18.2)])
SHINGLE = Polygon([(1.5, 25.5), (9, 26.6), (20, 27.8), (33, 27.2), (42.5, 25.8), (42.5, 30.5), (1.5, 30.5)])
SEA = Polygon([(1.5, 14.8), (42.5, 14.4), (42.5, 24.9), (33, 26.4), (20, 27), (9, 25.8), (1.5, 24.7)])


def _sea_tone(points: np.ndarray) -> np.ndarray:
    """Return the wanted darkness of the water: dark under the boat and at the horizon, light in the middle."""
    under = np.exp(-(((points[:, 0] - 23) / 11) ** 2) - ((points[:, 1] - 24.5) / 2.6) ** 2)
    far = np.exp(-(((points[:, 1] - 14.5) / 2.2) ** 2))
    return np.clip(0.30 + 0.6 * under + 0.35 * far, 0, 1)


def make_cove_plate(seed: int) -> Plate:
    """Return the plate, drawn by the hand of `seed`."""
    rng = np.random.default_rng([seed, 5])
    boat = HULL.union(SAIL).buffer(0.25)
    strokes: list[Stroke] = []
    strokes += hatch(HULL, straight_guide(HULL, 62), 0.26, Needle(58, 0.8), rng)
    strokes += hatch(HULL, straight_guide(HULL, 118), 0.28, Needle(54, 0.75), rng)
    strokes += hatch(SAIL, arc_guide(SAIL, 74, 0.04), 0.55, Needle(26, 0.35), rng)
    strokes += hatch(HEADLAND, arc_guide(HEADLAND, 28, 0.05), 0.30, Needle(30, 0.4), rng)
    water = SEA.difference(boat)
    guide = np.stack([np.linspace(-2, 46, 240), 14 + 0.18 * np.sin(np.linspace(0, 40, 240))], axis=1)
    strokes += hatch(water, guide, 0.55, Needle(40, 0.55), rng, tone=_sea_tone, threshold=0.12, lift_mm=7)
    strokes += grain(SHINGLE, 16, rng, size_um=75)
    for outline, needle in ((HULL, Needle(78, 0.9)), (SAIL, Needle(44, 0.6)), (HEADLAND, Needle(38, 0.5))):
        strokes.append(outline_stroke(np.array(outline.exterior.coords), needle, rng, 0.03))
    strokes.append(outline_stroke(np.array([(23.1, 3.4), (23.2, 12), (23.3, 20.4)]), Needle(70, 0.85), rng))
    shore = smooth_curve([(1.5, 25.1), (9, 26.2), (20, 27.4), (33, 26.8), (42.5, 25.4)])
    strokes += [
        outline_stroke(piece, Needle(48, 0.6), rng) for piece in clipped(shore, box(1.5, 20, 42.5, 31))
    ]
    for k in range(4):
        x, y = 33 + 1.9 * k, 6.2 + 0.8 * (k % 2)
        wing = smooth_curve(
            [(x - 0.8, y + 0.3), (x - 0.3, y - 0.15), (x, y + 0.1), (x + 0.35, y - 0.2), (x + 0.8, y + 0.2)]
        )
        strokes.append(outline_stroke(wing, Needle(34, 0.5), rng, 0.01))
    regions = (
        PlateRegion(
            "sky", "open", Polygon([(2.5, 2.5), (21.5, 2.5), (21.5, 6), (13, 6.4), (8, 5.6), (2.5, 8.5)])
        ),
        PlateRegion("headland", "lines", HEADLAND.buffer(-0.5)),
        PlateRegion("sail", "lines", SAIL.buffer(-0.5)),
        PlateRegion("hull", "lines", HULL.buffer(-0.5)),
        PlateRegion("water", "lines", box(32.5, 15.2, 42, 24)),
        PlateRegion("shingle", "tone", SHINGLE.buffer(-0.5)),
    )
    return Plate("Boat in the cove", WIDTH_MM, HEIGHT_MM, tuple(strokes), regions)
