"""What a pull prints: width and absorbance of every stroke, the film between them, and what the paper takes.

Absorbance is ``1 - R/Rg``: the share of the local ground's light that the ink takes away. The line load of a stroke
is width times absorbance, plus its skirts.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy import ndimage

from tests.simulate import faults
from tests.simulate.hand import Pull
from tests.simulate.noise import smooth_field
from tests.simulate.plate import KINDS, Plate, Work

CORE_DENSITY = 1.32
"""Core of a deep, well fed line above bare paper; hand-printed black is 1.2 to 1.7 (common practice). [D]"""
SPREAD_UM = 18.0
"""How much wider than its groove a line prints, 8-18 µm a side in the literature on intaglio ink. [µm]"""
BURR_LENGTH_UM = 110.0
"""Reach of a burr's skirt: its absorbance falls to 1/e over this distance. [µm]"""
RAGGED_UM = 2.5
"""Spread of a line's edge with the paper's grain. [µm]"""
FILM_STEP_MM = 0.2
"""Pitch of the film table; finer than any streak."""


@dataclass(slots=True, eq=False)
class Inked:
    """A pull about to be rendered; arrays of one value per point of `Work`."""

    work: Work
    width_um: np.ndarray
    absorbance: np.ndarray
    hollow: np.ndarray
    """How much paler the middle is than the edges, 0 = solid."""
    skirt: np.ndarray
    """Absorbance beside the line's edge."""
    skirt_um: np.ndarray
    """Reach of the skirt; negative = on the left side only (burr). [µm]"""
    film: np.ndarray
    """(rows, columns) film table over the plate at `FILM_STEP_MM`. [D]"""
    ragged_um: float = RAGGED_UM
    contact: float = 10.0
    """Paper grain above this many spreads takes no ink; 10 = takes everywhere."""
    ghost: tuple[float, float, float] | None = None
    """Second printing: shift x, y on the sheet [µm] and its absorbance against the first."""
    dark_specks: list[tuple[float, float, float]] = field(default_factory=list)
    """x, y [plate mm], diameter [µm]."""
    light_specks: list[tuple[float, float, float]] = field(default_factory=list)
    film_points: np.ndarray = field(default_factory=lambda: np.empty((0, 0, 2)))
    """(rows, columns, 2) plate points of `film`. [mm]"""
    dense: np.ndarray = field(default_factory=lambda: np.empty((0, 0)))
    """(rows, columns) share of the plate covered by line, smoothed over 0.7 mm."""


def film_points(plate: Plate) -> np.ndarray:
    """Return the plate points of the film table, (rows, columns, 2). [mm]"""
    xs = np.arange(0.0, plate.width_mm + FILM_STEP_MM, FILM_STEP_MM)
    ys = np.arange(0.0, plate.height_mm + FILM_STEP_MM, FILM_STEP_MM)
    return np.stack(np.meshgrid(xs, ys), axis=-1)


def segment_ends(work: Work) -> np.ndarray:
    """Return the index of the first point of every segment; the second is the next point."""
    return np.flatnonzero(np.diff(work.stroke) == 0)


def _density_of_work(work: Work, points: np.ndarray) -> np.ndarray:
    """Return the share of the plate covered by grooves, on the film table."""
    first = segment_ends(work)
    middle = (work.points_mm[first] + work.points_mm[first + 1]) / 2
    length = np.hypot(*(work.points_mm[first + 1] - work.points_mm[first]).T)
    area = length * (work.groove_um[first] + SPREAD_UM) / 1000
    rows, columns = points.shape[:2]
    at = np.clip(np.rint(middle / FILM_STEP_MM).astype(int), 0, (columns - 1, rows - 1))
    table = np.zeros((rows, columns))
    np.add.at(table, (at[:, 1], at[:, 0]), area / FILM_STEP_MM**2)
    return np.minimum(ndimage.gaussian_filter(table, 0.7 / FILM_STEP_MM), 1.0)


def ink_plate(plate: Plate, work: Work, pull: Pull, seed: int) -> Inked:
    """Return what `pull` prints from `plate`: the recipe, the hand's ordinary variation, then its faults."""
    points = film_points(plate)
    feed = 1 + 0.02 * pull.unevenness * smooth_field(work.points_mm, 11.0, [seed, 1])
    feed *= 1 + 0.02 * pull.unevenness * smooth_field(work.points_mm, 0.45, [seed, 2])
    fill = pull.ink * feed
    density = CORE_DENSITY * (0.42 + 0.58 * work.depth) * fill
    wandering = 1 + 0.025 * pull.unevenness * smooth_field(work.points_mm, 0.35, [seed, 3])
    film = pull.film_density + 0.004 * pull.unevenness * smooth_field(points, 13.0, [seed, 4])
    burr = work.kind == KINDS.index("drypoint")
    inked = Inked(
        work=work,
        width_um=pull.width * wandering * (work.groove_um + SPREAD_UM * fill),
        absorbance=1 - 10.0**-density,
        hollow=np.zeros(len(work.depth)),
        skirt=np.where(burr, work.burr * fill, 0.0),
        skirt_um=np.where(burr, -BURR_LENGTH_UM, BURR_LENGTH_UM),
        film=film,
        ragged_um=RAGGED_UM * pull.grain,
        film_points=points,
        dense=_density_of_work(work, points),
    )
    for k, fault in enumerate(pull.faults):
        faults.plant(inked, fault, [seed, 100 + k])
    inked.film = np.maximum(inked.film, 0.0)
    inked.absorbance = np.clip(inked.absorbance, 0.0, 0.995)
    inked.width_um = np.maximum(inked.width_um, 4.0)
    return inked


def core_load_um(inked: Inked) -> np.ndarray:
    """Return the planted load of each point's core alone, with its hollow but without skirts. [µm]"""
    return np.asarray(inked.width_um * inked.absorbance * (1 - inked.hollow * 2 / 3))


def load_um(inked: Inked) -> np.ndarray:
    """Return the planted line load at every point: core with its hollow, and skirts. [µm]"""
    sides = np.where(inked.skirt_um < 0, 1.0, 2.0)
    skirts = sides * inked.skirt * np.abs(inked.skirt_um) * (1 - np.exp(-4.0))
    return np.asarray(core_load_um(inked) + skirts)
