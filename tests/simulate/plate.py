"""The copper: strokes with groove width and depth, their regions, all in plate millimetres."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from shapely.geometry import Polygon

Kind = Literal["burin", "etched", "drypoint", "soft-ground"]
KINDS: tuple[Kind, ...] = ("burin", "etched", "drypoint", "soft-ground")


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """One line of the needle or burin, or one grain of a soft-ground texture."""

    points_mm: np.ndarray
    """(n, 2) course in plate mm, x right, y down, as the print is seen."""
    groove_um: np.ndarray
    """(n,) width of the groove at each point. [µm]"""
    depth: float
    """0 = scratched, 1 = as deep as the plate has; deep grooves hold ink against the wiping hand. [-]"""
    kind: Kind = "etched"
    burr: float = 0.0
    """Absorbance of the burr's skirt just beside the groove, 0 = none. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class PlateRegion:
    """A part of the plate with one kind of work."""

    name: str
    work: Literal["lines", "tone", "open", "drypoint"]
    outline_mm: Polygon


@dataclass(frozen=True, slots=True, eq=False)
class Plate:
    """A finished plate."""

    title: str
    width_mm: float
    height_mm: float
    strokes: tuple[Stroke, ...]
    regions: tuple[PlateRegion, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Work:
    """All strokes of a plate as flat arrays, resampled so that curves and faults are followed closely."""

    points_mm: np.ndarray
    """(n, 2)."""
    groove_um: np.ndarray
    """(n,)."""
    depth: np.ndarray
    """(n,)."""
    burr: np.ndarray
    """(n,)."""
    stroke: np.ndarray
    """(n,) index of the stroke a point belongs to; a segment joins neighbours of one stroke."""
    kind: np.ndarray
    """(n,) index into `KINDS`."""


def _resample(stroke: Stroke, step_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Return points no further apart than `step_mm`, and the groove there."""
    lengths = np.hypot(*np.diff(stroke.points_mm, axis=0).T)
    along = np.concatenate(([0.0], np.cumsum(lengths)))
    n = max(2, int(np.ceil(along[-1] / step_mm)) + 1)
    at = np.linspace(0.0, along[-1], n)
    points = np.stack([np.interp(at, along, stroke.points_mm[:, k]) for k in (0, 1)], axis=1)
    return points, np.interp(at, along, stroke.groove_um)


def flatten(plate: Plate, step_mm: float = 0.12) -> Work:
    """Return the plate's strokes as flat arrays with points at most `step_mm` apart."""
    sampled = [_resample(stroke, step_mm) for stroke in plate.strokes]
    counts = [len(points) for points, _ in sampled]

    def spread(values: list[float], dtype: type = np.float64) -> np.ndarray:
        return np.repeat(np.asarray(values, dtype=dtype), counts)

    return Work(
        points_mm=np.concatenate([points for points, _ in sampled]),
        groove_um=np.concatenate([groove for _, groove in sampled]),
        depth=spread([s.depth for s in plate.strokes]),
        burr=spread([s.burr for s in plate.strokes]),
        stroke=spread(list(range(len(plate.strokes))), np.int64),
        kind=spread([KINDS.index(s.kind) for s in plate.strokes], np.int64),
    )
