"""Plant small marks in scans whose geometry is known, and tell which of them were found as places.

Marks are those a printer looks for under a loupe: specks of ink (skin, hair, grit), spots that lint kept bare, and the
bare slits of small creases, 0.3 to 0.7 mm across or long.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
import pandas as pd

Kind = str

SPECK_REFLECTANCE = 0.09
"""Of a lump of ink against bare paper: 1.05 D, a full black line of the simulators."""

OPTICS_MM = 0.018
"""Blur of a flatbed's optics (common practice). [mm]"""

CLEAR_INK = 0.07
"""A bare mark is planted where at least this much ink is printed: elsewhere there is nothing to see."""

DARK_LIMIT = 0.55
"""A dark mark is planted where no more than this much ink is printed."""

FOUND_MM = 0.3
"""A place this close to a mark's middle, or along its length, has found it."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One planted mark."""

    x_mm: float
    y_mm: float
    length_mm: float
    breadth_mm: float
    angle_deg: float
    dark: bool


def draw_mark(rng: np.random.Generator, size_mm: tuple[float, float], turn: int) -> Mark:
    """Return a mark of one of three kinds in turn: speck, bare spot, slit."""
    x, y = rng.uniform((1.2, 1.2), (size_mm[0] - 1.2, size_mm[1] - 1.2))
    angle = float(rng.uniform(0, 180))
    if turn % 3 == 2:
        return Mark(x, y, float(rng.uniform(0.7, 3.0)), float(rng.uniform(0.15, 0.3)), angle, dark=False)
    across = float(rng.uniform(0.3, 0.7))
    return Mark(x, y, across, across * float(rng.uniform(0.7, 1.0)), angle, dark=turn % 3 == 0)


def draw_marks(
    rng: np.random.Generator,
    size_mm: tuple[float, float],
    count: int,
    ink_at: Callable[[float, float], float],
) -> list[Mark]:
    """Return `count` marks at least 2 mm apart, each where it can be seen: `ink_at` gives the mean ink of a place."""
    marks: list[Mark] = []
    for _ in range(200 * count):
        if len(marks) == count:
            break
        mark = draw_mark(rng, size_mm, len(marks))
        ink = ink_at(mark.x_mm, mark.y_mm)
        clear = ink <= DARK_LIMIT if mark.dark else ink >= CLEAR_INK
        apart = all(np.hypot(mark.x_mm - m.x_mm, mark.y_mm - m.y_mm) > 2 + m.length_mm / 2 for m in marks)
        if clear and apart:
            marks.append(mark)
    return marks


def plant(
    plane: np.ndarray, mark: Mark, to_px: Callable[[np.ndarray], np.ndarray], paper: float, full: float
) -> None:
    """Draw a mark into a linear plane (h, w); `paper` is the level of bare paper, `full` that of the white."""
    here = np.array([[mark.x_mm, mark.y_mm]])
    frame = to_px(here + np.array([[0, 0], [0.1, 0], [0, 0.1]]))
    per_mm = 10 * np.stack((frame[1] - frame[0], frame[2] - frame[0]), axis=1)
    scale = float(np.sqrt(abs(np.linalg.det(per_mm))))
    reach = int((mark.length_mm / 2 + 0.2) * scale) + 3
    x0, y0 = (round(v) - reach for v in frame[0])
    fine = 4
    n = (2 * reach + 1) * fine
    at = (np.arange(n) + 0.5) / fine - 0.5
    px = np.stack(np.meshgrid(at + x0, at + y0), axis=-1) - frame[0]
    mm = px @ np.linalg.inv(per_mm).T
    a = np.deg2rad(mark.angle_deg)
    along, across = mm @ [np.cos(a), -np.sin(a)], mm @ [np.sin(a), np.cos(a)]
    inside = ((2 * along / mark.length_mm) ** 2 + (2 * across / mark.breadth_mm) ** 2 <= 1).astype(np.float32)
    soft = cv2.GaussianBlur(inside, (0, 0), OPTICS_MM * scale * fine)
    share = cv2.resize(soft, (2 * reach + 1,) * 2, interpolation=cv2.INTER_AREA)
    h, w = plane.shape
    ys, xs = slice(max(y0, 0), min(y0 + 2 * reach + 1, h)), slice(max(x0, 0), min(x0 + 2 * reach + 1, w))
    part = plane[ys, xs].astype(np.float64)
    cut = share[ys.start - y0 : ys.stop - y0, xs.start - x0 : xs.stop - x0]
    level = paper * full * (SPECK_REFLECTANCE if mark.dark else 1.0)
    plane[ys, xs] = np.clip(part + cut * (level - part), 0, full).astype(plane.dtype)


def found_and_false(marks: dict[str, list[Mark]], places: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return one row per mark with the distance of the nearest place of its sign, and the places that hit no mark.

    Parameters
    ----------
    marks : dict
        Pull -> what was planted.
    places : pandas.DataFrame
        Table `places`.
    """
    rows, false = [], []
    for pull, planted in marks.items():
        mine = places[places["pull"] == pull]
        used = np.zeros(len(mine), dtype=bool)
        for mark in planted:
            far = np.array([_distance(mark, p) for p in mine.itertuples() if (p.ink_change > 0) == mark.dark])
            at = np.flatnonzero((mine["ink_change"] > 0).to_numpy() == mark.dark)
            nearest = float(far.min()) if far.size else np.inf
            used[at[far <= FOUND_MM + 0.2]] = True
            rows.append(
                {"pull": pull, "dark": mark.dark, "slit": mark.length_mm > 2 * mark.breadth_mm, "x_mm": mark.x_mm,
                 "y_mm": mark.y_mm, "length_mm": mark.length_mm, "breadth_mm": mark.breadth_mm, "nearest_mm": nearest}
            )  # fmt: skip
        false.append(mine[~used])
    return pd.DataFrame(rows), pd.concat(false)


def _distance(mark: Mark, place: object) -> float:
    """Return how far a place's middle lies from a mark's middle line. [mm]"""
    a = np.deg2rad(mark.angle_deg)
    offset = np.array([place.x_mm - mark.x_mm, place.y_mm - mark.y_mm])
    along, across = offset @ [np.cos(a), -np.sin(a)], offset @ [np.sin(a), np.cos(a)]
    half = max(mark.length_mm / 2 - mark.breadth_mm / 2, 0)
    return float(np.hypot(max(abs(along) - half, 0), across))
