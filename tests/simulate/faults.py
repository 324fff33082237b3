"""Faults, planted in the physics of a pull, never painted on the picture.

Each function changes an `Inked` in place; `s` is the strength, 0 to 1. The numbers are what full strength means.
They are common practice in kind and invented in size.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from scipy import ndimage

from tests.simulate.noise import smooth_field

if TYPE_CHECKING:
    from tests.simulate.hand import Fault
    from tests.simulate.ink import Inked


def _ramp(value: np.ndarray, low: float, high: float) -> np.ndarray:
    """Return a smooth step from 0 at `low` to 1 at `high`."""
    t = np.clip((value - low) / (high - low), 0.0, 1.0)
    return np.asarray(t * t * (3 - 2 * t))


def _place(points_mm: np.ndarray, fault: Fault) -> np.ndarray:
    """Return how much of a fault happens at each point, 1 in its middle and 0 beyond its reach."""
    if fault.centre_mm is None:
        return np.ones(points_mm.shape[:-1])
    distance = np.hypot(*np.moveaxis(points_mm - np.array(fault.centre_mm), -1, 0))
    return 1 - _ramp(distance, 0.5 * fault.radius_mm, 1.2 * fault.radius_mm)


def _across(points_mm: np.ndarray, plate_mm: np.ndarray, angle_deg: float) -> np.ndarray:
    """Return -1 to 1 along a direction over the plate."""
    direction = np.array([np.cos(np.deg2rad(angle_deg)), -np.sin(np.deg2rad(angle_deg))])
    middle = plate_mm / 2
    return np.asarray((points_mm - middle) @ direction / (np.abs(direction) @ middle))


def _size(inked: Inked) -> np.ndarray:
    return np.asarray(inked.film_points[-1, -1])


def _at_points(inked: Inked, table: np.ndarray) -> np.ndarray:
    """Return a film table at the points of the strokes."""
    step = inked.film_points[0, 1, 0]
    return ndimage.map_coordinates(table, inked.work.points_mm[:, ::-1].T / step, order=1, mode="nearest")


def under_inked(inked: Inked, fault: Fault, s: float, seed: list[int]) -> None:
    """Ink not worked in: in blotches of some 6 mm lines lose up to 85 % of their ink, in gaps of half a mm."""
    points = inked.work.points_mm
    blotch = _ramp(smooth_field(points, 4.0, [*seed, 1]), -0.9, 1.2) * _place(points, fault)
    breaks = _ramp(smooth_field(points, 0.35, [*seed, 2]), -1.3, 1.0)
    inked.absorbance = inked.absorbance * (1 - s * blotch * (0.25 + 0.6 * breaks))


def overwiped(inked: Inked, fault: Fault, s: float, seed: list[int]) -> None:
    """The hand went on too long: film gone, shallow lines lose 60 %, deep ones 5 %, wide shallow ones hollow."""
    points = inked.work.points_mm
    where = _place(points, fault) * (1 + 0.2 * smooth_field(points, 9.0, [*seed, 1])).clip(0.4, 1.3)
    shallow = (1 - inked.work.depth) ** 1.3
    inked.absorbance = inked.absorbance * (1 - s * where * (0.05 + 0.6 * shallow)).clip(0.05, 1)
    inked.width_um = inked.width_um * (1 - 0.06 * s * where * shallow)
    wide = _ramp(inked.width_um, 100.0, 260.0)
    inked.hollow = np.maximum(inked.hollow, s * where * wide * 0.5 * shallow)
    inked.skirt = inked.skirt * (1 - 0.5 * s * where)
    inked.film = inked.film * (1 - 0.93 * s * _place(inked.film_points, fault))


def underwiped(inked: Inked, fault: Fault, s: float, seed: list[int]) -> None:
    """The hand stopped too soon: film up by 0.10 D and more at the edges, gaps fill, lines 14 µm wider."""
    points = inked.film_points
    place = _place(points, fault)
    rim = (
        np.abs(_across(points, _size(inked), 0)) ** 3 * 0.03
        + np.abs(_across(points, _size(inked), 90)) ** 3 * 0.02
    )
    inked.film = inked.film + s * place * (0.10 + rim + 0.008 * smooth_field(points, 6.0, [*seed, 1]))
    inked.film = inked.film + s * place * 0.10 * _ramp(inked.dense, 0.15, 0.7)
    inked.width_um = inked.width_um + 14.0 * s * _place(inked.work.points_mm, fault)


def wipe_streaks(inked: Inked, fault: Fault, s: float, seed: list[int]) -> None:
    """Bands in the film along the last stroke of the hand, 0.03 D of spread, mean unchanged."""
    points = inked.film_points
    angle = np.deg2rad(fault.angle_deg)
    along = points @ np.array([np.cos(angle), -np.sin(angle)])
    across = points @ np.array([np.sin(angle), np.cos(angle)])
    bent = np.stack((along / 25.0, across + 0.004 * (along - 30) ** 2), axis=-1)
    bands = 0.75 * smooth_field(bent, 0.9, [*seed, 1]) + 0.65 * smooth_field(bent, 0.35, [*seed, 2])
    streaks = 0.03 * s * (bands - bands.mean()) * _place(points, fault)
    inked.film = inked.film + np.maximum(streaks, 0.005 - inked.film)


def uneven_wiping(inked: Inked, fault: Fault, s: float, seed: list[int]) -> None:
    """Film changes across the plate by 0.09 D from side to side (or in a patch), unrelated to the lines."""
    points = inked.film_points
    wobble = 0.012 * smooth_field(points, 12.0, [*seed, 1])
    if fault.centre_mm is not None:
        inked.film = inked.film + s * (0.075 * _place(points, fault) + wobble)
        return
    ramp = _across(points, _size(inked), fault.angle_deg)
    change = s * (0.045 * ramp + 0.5 * wobble)
    inked.film = np.maximum(inked.film + change, np.minimum(inked.film, 0.004))


def retroussage(inked: Inked, fault: Fault, s: float, seed: list[int]) -> None:
    """Ink drawn out with soft muslin: a skirt of absorbance 0.25 over 150 µm beside lines, gaps up, ground flat."""
    place = _place(inked.work.points_mm, fault)
    lines = inked.work.kind != 3  # grains of a texture have no skirt of their own
    strength = s * place * np.where(lines, 0.25, 0.08) * (0.7 + 0.6 * inked.work.depth)
    burr = inked.skirt_um < 0
    inked.skirt = np.where(burr, np.maximum(inked.skirt, strength), strength)
    inked.skirt_um = np.where(burr, inked.skirt_um, 150.0)
    inked.absorbance = inked.absorbance * (1 - 0.02 * s * place)
    inked.film = inked.film + 0.07 * s * _place(inked.film_points, fault) * _ramp(inked.dense, 0.2, 0.7)


def clogged_hatching(inked: Inked, fault: Fault, s: float, seed: list[int]) -> None:
    """Dense work shut up: where lines cover a third and more, gaps fill by 0.35 D and lines spread by 18 µm."""
    place = _place(inked.film_points, fault) * _ramp(inked.dense, 0.25, 0.5)
    inked.film = inked.film + 0.35 * s * place
    inked.width_um = inked.width_um + 18.0 * s * _at_points(inked, place)


def low_pressure(inked: Inked, fault: Fault, s: float, seed: list[int]) -> None:
    """Paper not pressed into the lines: ink and film down together, by 40 % at most, lines 10 % narrower."""
    inked.absorbance = inked.absorbance * (1 - 0.40 * s)
    inked.width_um = inked.width_um * (1 - 0.10 * s)
    inked.skirt = inked.skirt * (1 - 0.4 * s)
    inked.film = inked.film * (1 - 0.45 * s)


def uneven_pressure(inked: Inked, fault: Fault, s: float, seed: list[int]) -> None:
    """Low pressure on one side, the recipe's on the other, a straight ramp between."""
    size = _size(inked)
    lines = 0.5 - 0.5 * _across(inked.work.points_mm, size, fault.angle_deg)
    ground = 0.5 - 0.5 * _across(inked.film_points, size, fault.angle_deg)
    inked.absorbance = inked.absorbance * (1 - 0.40 * s * lines)
    inked.width_um = inked.width_um * (1 - 0.10 * s * lines)
    inked.skirt = inked.skirt * (1 - 0.4 * s * lines)
    inked.film = inked.film * (1 - 0.5 * s * ground)


def dry_paper(inked: Inked, fault: Fault, s: float, seed: list[int]) -> None:
    """Fibres stay out of the lines: up to 35 % of the paper's grain takes no ink, edges ragged."""
    inked.contact = float(np.interp(s, [0, 0.25, 0.5, 0.75, 1.0], [3.0, 1.35, 0.95, 0.62, 0.40]))
    inked.ragged_um = inked.ragged_um + 5.0 * s
    inked.absorbance = inked.absorbance * (1 - 0.06 * s)


def doubled(inked: Inked, fault: Fault, s: float, seed: list[int]) -> None:
    """The sheet slipped: a second set of lines at one shift, at most 60 % as strong as the first."""
    angle = np.deg2rad(fault.angle_deg)
    inked.ghost = (fault.size_um * np.cos(angle), -fault.size_um * np.sin(angle), 0.6 * s)
    inked.absorbance = inked.absorbance * (1 - 0.04 * s)


def specks(inked: Inked, fault: Fault, s: float, seed: list[int]) -> None:
    """Ink skin and lint: up to 2.5 dark and 1.2 light marks per cm², 80-500 µm."""
    rng = np.random.default_rng(seed)
    size = _size(inked)
    area_cm2 = size[0] * size[1] / 100
    for marks, per_cm2 in ((inked.dark_specks, 2.5), (inked.light_specks, 1.2)):
        for _ in range(round(s * per_cm2 * area_cm2)):
            x, y = rng.uniform((0.5, 0.5), size - 0.5)
            marks.append((float(x), float(y), float(np.exp(rng.uniform(np.log(80), np.log(500))))))


def plate_wear(inked: Inked, fault: Fault, s: float, seed: list[int]) -> None:
    """Copper worn by wiping: the finest lines lose 45 % of width and 25 % of ink, 250 µm lines next to nothing."""
    fine = np.exp(-inked.work.groove_um / 70.0)
    inked.width_um = inked.width_um * (1 - 0.45 * s * fine)
    inked.absorbance = inked.absorbance * (1 - 0.25 * s * fine)
    inked.skirt = inked.skirt * (1 - 0.5 * s)


def burr_loss(inked: Inked, fault: Fault, s: float, seed: list[int]) -> None:
    """The burr breaks off: up to 90 % of the skirt gone, the drypoint's own groove stays."""
    inked.skirt = inked.skirt * (1 - 0.9 * s)


def _elsewhere(inked: Inked, fault: Fault, s: float, seed: list[int]) -> None:
    """Nothing to do with ink: the crease is in the mapping, bevel ink in the plate mark."""


PLANTERS: dict[str, Callable[[Inked, Fault, float, list[int]], None]] = {
    "under-inked": under_inked,
    "overwiped": overwiped,
    "underwiped": underwiped,
    "wipe streaks": wipe_streaks,
    "uneven wiping": uneven_wiping,
    "retroussage": retroussage,
    "clogged hatching": clogged_hatching,
    "low pressure": low_pressure,
    "uneven pressure": uneven_pressure,
    "dry paper": dry_paper,
    "doubled": doubled,
    "crease": _elsewhere,
    "specks": specks,
    "bevel ink": _elsewhere,
    "plate wear": plate_wear,
    "burr loss": burr_loss,
}


def plant(inked: Inked, fault: Fault, seed: list[int]) -> None:
    """Plant `fault` in `inked`."""
    PLANTERS[fault.cause](inked, fault, fault.strength, seed)
