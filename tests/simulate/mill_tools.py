"""Needles of the mill plate, and cutting to what is seen."""

import numpy as np
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from tests.simulate.drawing import Needle, clipped

FINE = Needle(17, 0.22, taper_mm=1.6, swell=0.35)
LIGHT = Needle(28, 0.42, taper_mm=1.2, swell=0.35)
MIDDLE = Needle(42, 0.58, taper_mm=0.9, swell=0.35)
DEEP = Needle(64, 0.82, taper_mm=0.7, swell=0.4)
BLACK = Needle(105, 0.95, taper_mm=0.6, swell=0.4)
BURR = Needle(24, 0.32, "drypoint", 0.34, taper_mm=0.7, swell=0.25)


def parts(shape: BaseGeometry) -> list[Polygon]:
    """Return the polygons of a shape, without slivers."""
    return [p for p in getattr(shape, "geoms", [shape]) if isinstance(p, Polygon) and p.area > 0.05]


def inside(points: np.ndarray, shape: BaseGeometry) -> list[np.ndarray]:
    return [piece for part in parts(shape) for piece in clipped(points, part)]
