"""Hits that hang together become one place, with its middle, size and kind."""

from dataclasses import dataclass

import cv2
import numpy as np

from proofkit.arrays import Floats, Ink, Mask
from proofkit.measures.fine_picture import FINE_PITCH_MM, ink_of
from proofkit.places.hits import SCALES, SPREADS, Hits
from proofkit.places.types import Kind, Place

BRIDGE_CELLS = 3
"""Hits up to this far apart (a hair that crosses lines shows between them only) are one place. [cells]"""

EDGE_MM = 0.8
"""Closer to the plate mark paper is bent and ink of the bevel lies: no places are told. [mm]"""

LONG = 2.5
"""A place this many times longer than broad is a streak, a slit or a stroke. [-]"""

LARGE_MM2 = 3.0
"""A place larger than this is a smear or a light patch: a speck of 2 mm is the largest a printer calls so. [mm²]"""

STROKE_INK = 0.12
"""The edition's ink along a missing stroke lies this far above that beside it. [-]"""

BESIDE_MM = 0.35
"""How far beside a place its surroundings are looked at. [mm]"""


@dataclass(frozen=True, slots=True, eq=False)
class Bar:
    """A place as a straight bar."""

    middle_mm: Floats
    """(2,)."""
    length_mm: float
    breadth_mm: float
    direction_deg: float
    """Counter-clockwise from x."""


def places_of(pull: str, hits: Hits, middle: Ink) -> tuple[Place, ...]:
    """Return the places of a sheet, the most conspicuous first.

    Parameters
    ----------
    pull : str
    hits : Hits
    middle : Ink
        (rows, columns) median picture of the edition.
    """
    found: list[tuple[float, Place]] = []
    for sign in (1, -1):
        chosen = np.sign(hits.spreads) == sign
        if chosen.any():
            found.extend(_of_one_sign(pull, hits, chosen, middle))
    return tuple(place for _, place in sorted(found, key=lambda one: -one[0]))


def _of_one_sign(pull: str, hits: Hits, chosen: Mask, middle: Ink) -> list[tuple[float, Place]]:
    plane = np.zeros(middle.shape, dtype=np.uint8)
    rows, columns = hits.rows[chosen], hits.columns[chosen]
    changes, all_spreads = hits.change[chosen].astype(np.float64), hits.spreads[chosen]
    plane[rows, columns] = 1
    bridge = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (BRIDGE_CELLS, BRIDGE_CELLS))
    _, labels = cv2.connectedComponents(cv2.dilate(plane, bridge), connectivity=8)
    of_hit = labels[rows, columns]
    order = np.argsort(of_hit, kind="stable")
    edges = np.flatnonzero(np.diff(of_hit[order])) + 1
    found = []
    for members in np.split(order, edges):
        change, spreads = changes[members], all_spreads[members]
        if np.abs(spreads).max() < SPREADS:
            continue
        at = np.column_stack((columns[members], rows[members])).astype(np.float64)
        place = _place(pull, at, change, float(spreads[np.argmax(np.abs(spreads))]), middle)
        if place is not None:
            found.append((float(np.abs(change).sum()), place))
    return found


def _place(pull: str, at: Floats, change: Floats, spreads: float, middle: Ink) -> Place | None:
    strength = np.maximum(np.abs(change), 1e-3)
    peak = float(change[np.argmax(strength)])
    core = strength >= 0.5 * strength.max()
    x_mm, y_mm = np.average(at[core], axis=0, weights=strength[core]) * FINE_PITCH_MM
    rows, columns = middle.shape
    inside_x = EDGE_MM <= x_mm <= (columns - 1) * FINE_PITCH_MM - EDGE_MM
    inside_y = EDGE_MM <= y_mm <= (rows - 1) * FINE_PITCH_MM - EDGE_MM
    if not (inside_x and inside_y):
        return None
    bar = Bar(np.array([x_mm, y_mm]), *_size(at[core], strength[core]))
    return Place(
        pull=pull,
        kind=_kind(bar, peak, middle),
        x_mm=float(x_mm),
        y_mm=float(y_mm),
        length_mm=bar.length_mm,
        breadth_mm=bar.breadth_mm,
        direction_deg=bar.direction_deg,
        ink_change=peak,
        spreads=abs(spreads),
    )


def _size(at: Floats, weights: Floats) -> tuple[float, float, float]:
    """Return length, breadth [mm] and direction [deg] of cells, without the averaging's own width.

    A bar of length L has the variance L²/12 along itself.
    """
    centred = at - np.average(at, axis=0, weights=weights)
    moments = (centred * weights[:, None]).T @ centred / weights.sum() + np.eye(2) / 12
    values, vectors = np.linalg.eigh(moments)
    own = (0.5 * SCALES[0].sigma_mm / FINE_PITCH_MM) ** 2
    breadth, length = (float(np.sqrt(12 * max(v - own, 1 / 12))) * FINE_PITCH_MM for v in values)
    direction = float(np.degrees(np.arctan2(-vectors[1, 1], vectors[0, 1])) % 180)
    return length, breadth, direction


def _kind(place: Bar, peak: float, middle: Ink) -> Kind:
    is_long = place.length_mm >= LONG * place.breadth_mm
    is_large = place.length_mm * place.breadth_mm > LARGE_MM2 and not is_long
    if peak > 0:
        return "smear" if is_large else "dark streak" if is_long else "dark speck"
    if is_long and _lies_on_a_line(place, middle):
        return "missing stroke"
    return "light patch" if is_large else "slit" if is_long else "light spot"


def _lies_on_a_line(place: Bar, middle: Ink) -> bool:
    """Tell whether the edition prints more ink along a place than on both sides of it."""
    angle = np.radians(place.direction_deg)
    along = np.array([np.cos(angle), -np.sin(angle)])
    across = np.array([np.sin(angle), np.cos(angle)])
    steps = np.linspace(-0.5, 0.5, 2 + int(place.length_mm / FINE_PITCH_MM))[:, None] * place.length_mm
    aside = place.breadth_mm / 2 + BESIDE_MM
    ink = []
    for offset in (0.0, -aside, aside):
        cells = np.rint((place.middle_mm + steps * along + offset * across) / FINE_PITCH_MM).astype(np.intp)
        columns, rows = np.clip(cells, 0, np.array(middle.shape[::-1]) - 1).T
        ink.append(float(np.nanmean(np.append(ink_of(middle[rows, columns]), 0.0))))
    return ink[0] - max(ink[1], ink[2]) > STROKE_INK
