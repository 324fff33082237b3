"""A small plate of plain passages of work, for tests: each kind of work in a place of its own."""

import numpy as np
from shapely.geometry import Polygon, box

from tests.simulate.drawing import Needle, arc_guide, grain, hatch, outline_stroke, straight_guide
from tests.simulate.plate import Plate, PlateRegion, Stroke


def _petals(centre: tuple[float, float], rng: np.random.Generator) -> list[Stroke]:
    """Return contour lines in many directions, so that the plate can be recognised when it is turned."""
    strokes = []
    for k in range(9):
        angle = 2 * np.pi * k / 9 + 0.3
        t = np.linspace(0, 1, 40)
        reach = 6.0 + 2.5 * rng.uniform()
        along = reach * np.sin(np.pi * t / 2)
        aside = 1.6 * np.sin(np.pi * t) * (1 if k % 2 else -1)
        x = centre[0] + along * np.cos(angle) - aside * np.sin(angle)
        y = centre[1] + along * np.sin(angle) + aside * np.cos(angle)
        strokes.append(outline_stroke(np.stack((x, y), axis=1), Needle(80, 0.85, "burin", swell=0.4), rng))
    return strokes


def make_trial_plate(seed: int) -> Plate:
    """Return a plate of 40 x 50 mm: open, dense and fine hatching, a texture, drypoint, contours, bare ground."""
    rng = np.random.default_rng(seed)
    open_field = Polygon([(3, 4), (18, 3), (19, 16), (4, 17)])
    dense = Polygon([(22, 20), (37, 19), (36.5, 32), (22.5, 33)])
    fine = Polygon([(3, 20), (18, 21), (17, 33), (4, 32)])
    cloth = Polygon([(4, 36), (18, 35.5), (18.5, 47), (3.5, 46)])
    dry = Polygon([(22, 36), (36, 35.5), (36.5, 47), (22.5, 46.5)])
    strokes: list[Stroke] = []
    strokes += hatch(open_field, arc_guide(open_field, 40, 0.06), 0.34, Needle(48, 0.55), rng)
    strokes += hatch(dense, straight_guide(dense, 35), 0.22, Needle(62, 0.85), rng)
    strokes += hatch(dense, straight_guide(dense, 105), 0.24, Needle(58, 0.8), rng)
    strokes += hatch(fine, arc_guide(fine, 160, 0.04), 0.14, Needle(20, 0.22), rng)
    strokes += grain(cloth, 34, rng, size_um=60)
    strokes += hatch(dry, arc_guide(dry, 70, 0.08), 0.9, Needle(22, 0.3, "drypoint", 0.35, swell=0.15), rng)
    strokes += _petals((29.0, 10.0), rng)
    regions = (
        PlateRegion("open hatching", "lines", open_field.buffer(-0.6)),
        PlateRegion("dense hatching", "lines", dense.buffer(-0.6)),
        PlateRegion("fine lines", "lines", fine.buffer(-0.6)),
        PlateRegion("cloth grain", "tone", cloth.buffer(-0.6)),
        PlateRegion("drypoint", "drypoint", dry.buffer(-0.6)),
        PlateRegion("contours", "lines", box(21, 2.5, 38, 18)),
        PlateRegion("bare ground", "open", box(19.5, 33.5, 21.5, 48.5)),
    )
    return Plate("Trial passages", 40.0, 50.0, tuple(strokes), regions)
