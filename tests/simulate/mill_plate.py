"""The plate of the sample edition: an invented landscape with a water mill, a stone bridge and a near tree."""

import itertools

import numpy as np
import shapely
from shapely.geometry import Polygon

from tests.simulate import mill_buildings as buildings
from tests.simulate import mill_nature as nature
from tests.simulate import mill_shapes as layout
from tests.simulate import mill_trees as trees
from tests.simulate.drawing import outline_stroke
from tests.simulate.mill_tools import LIGHT
from tests.simulate.plate import Plate, PlateRegion, Stroke

TITLE = "Mill below the stone bridge"

# fmt: off
REGIONS = (
    PlateRegion("sky", "open", Polygon([(54.5, 4.5), (68.5, 4.5), (68.5, 15), (62.5, 15), (54.5, 10.5)])),
    PlateRegion(
        "far hills", "lines", Polygon([(53.2, 25.4), (60, 26.2), (63.6, 26.9), (63.6, 30.3), (53.2, 30.2)])
    ),
    PlateRegion(
        "tree crown", "tone", Polygon([(6, 8), (13, 7.4), (16.4, 13.5), (13.2, 20), (7, 20), (5, 14)])
    ),
    PlateRegion("sunlit wall", "lines", Polygon([(22.9, 27), (30.5, 26.4), (30.5, 38.4), (22.9, 37.8)])),
    PlateRegion(
        "gable in shadow", "lines", Polygon([(31.8, 25.6), (39.6, 25.6), (39.2, 38.4), (31.8, 38.2)])
    ),
    PlateRegion("bridge", "lines", Polygon([
        (48, 34.6), (58, 32.9), (68, 33.7), (68, 36.2), (62.6, 37.2), (60.7, 42), (59.8, 42), (58.6, 37.6), (54, 36),
        (49, 37),
    ])),
    PlateRegion(
        "river",
        "lines",
        Polygon([(38, 45.4), (60, 45.2), (56.4, 48.4), (53, 52.8), (30.6, 52.8), (34, 48.6)]),
    ),
    PlateRegion(
        "sandy path", "tone", Polygon([(68.8, 46.4), (64.4, 47.6), (60.8, 50), (59, 52.8), (68.8, 52.8)])
    ),
    PlateRegion("near bank", "drypoint", Polygon([(3.4, 47.4), (25, 47.4), (24.4, 52.8), (3.4, 52.8)])),
)
# fmt: on


def make_mill_plate(seed: int) -> Plate:
    """Return the mill plate, 72 x 56 mm, drawn from near to far so that near things hide far ones."""
    rng = np.random.default_rng([seed, 3])
    tree = shapely.union_all([*layout.crown(np.random.default_rng([seed, 4])), layout.TRUNK]).buffer(0.15)
    picture = layout.PICTURE
    strokes: list[Stroke] = []
    strokes += trees.draw_tree(np.random.default_rng([seed, 4]))
    strokes += buildings.draw_wheel(rng)
    strokes += buildings.draw_figure(rng)
    strokes += nature.draw_fence(rng)
    strokes += buildings.draw_mill(picture.difference(shapely.union_all([tree, layout.WHEEL])), rng)
    near = shapely.union_all([tree, layout.WHEEL, layout.MILL])
    strokes += buildings.draw_bridge(picture.difference(near), rng)
    water = layout.RIVER.difference(layout.WHEEL)
    strokes += nature.draw_river(water, rng)
    strokes += nature.draw_left_bank(
        layout.LEFT_BANK.difference(shapely.union_all([layout.TRUNK, layout.WHEEL])), rng
    )
    strokes += nature.draw_right_bank(layout.RIGHT_BANK, rng)
    near = shapely.union_all([near, layout.BRIDGE_MASS, layout.RIVER, layout.LEFT_BANK, layout.RIGHT_BANK])
    strokes += trees.draw_poplars(picture.difference(near), rng)
    far_trees = shapely.union_all([layout.poplar(*tree_shape) for tree_shape in layout.POPLARS])
    near = near.union(far_trees)
    strokes += nature.draw_hills(layout.HILLS.intersection(picture).difference(near), rng)
    strokes += nature.draw_sky(picture.difference(shapely.union_all([near, layout.HILLS])), rng)
    frame = np.array(picture.buffer(0.35, join_style="mitre").exterior.coords)
    for a, b in itertools.pairwise(frame):
        strokes.append(outline_stroke(np.array([a, b]), LIGHT, rng, 0.02))
    return Plate(TITLE, layout.WIDTH_MM, layout.HEIGHT_MM, tuple(strokes), REGIONS)
