"""Follow each drawn line on the print: how far aside the printed line runs, point by point."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats, Mask, Points
from proofkit.drawing.fitting import Target

FOLLOW_MM = 0.3
"""Distance of the points at which a drawn line is followed. [mm]"""

DEPARTS_MM = 0.45
"""A printed line this far from the drawn one departs: three times the hand's own wandering of 0.15 mm. [mm]"""

REACH_MM = 3.0
"""How far aside a printed line is looked for. [mm]"""

STEP_MM = 0.1
"""Steps in which it is looked for; the place is then refined. [mm]"""

LINE_MM = 0.12
"""Distance from a printed line at which the evidence for it falls off. [mm]"""

MISS = 6.0
"""Cost of a point without a printed line, in squares of `LINE_MM`: two and a half of them."""

SLOPE = 0.6
"""How fast a printed line leaves its drawn course, mm per mm, before it costs as much as a miss. [-]"""

JUMP = 12.0
"""Cost of leaving one printed line for another: as much as two points without any."""

FAR = 0.35
"""Cost per mm aside and point, so that of two lines the nearer one is followed. [1/mm]"""

SEEN_MM = 0.3
"""The printed line is there when it lies this near to the course that was followed. [mm]"""


class Offer(NamedTuple):
    """Printed lines, and what following them costs at each point, in squares of `LINE_MM`."""

    target: Target
    near: float
    """... at the drawn line's own place, within `DEPARTS_MM`."""
    far: float
    """... beyond."""


def follow(points_mm: Points, normals: Points, direction: Floats, offers: Sequence[Offer]) -> Floats:
    """Return how far along its normal each point of a drawn line meets its printed line.

    Parameters
    ----------
    points_mm : Points
        (n, 2) the drawn line on the print, in order, every `FOLLOW_MM`. [mm]
    normals : Points
        (n, 2) unit normals.
    direction : Floats
        (n,) directions of the line. [rad]
    offers : sequence of Offer
        Printed lines that may be followed.

    Returns
    -------
    Floats
        (n,) signed distance, NaN where no printed line was met. [mm]

    Notes
    -----
    The cheapest way through (point, distance) is found by dynamic programming: near a printed line of like direction
    costs little, changing the distance slowly costs little, and jumping to another line costs much. So a contour that
    was moved is followed as a whole, and a line that happens to lie nearer for a stretch is not.
    """
    steps = np.arange(-REACH_MM, REACH_MM + STEP_MM / 2, STEP_MM)
    places = points_mm[:, None, :] + steps[None, :, None] * normals[:, None, :]
    flat = places.reshape(-1, 2)
    far = np.tile(np.abs(steps) > DEPARTS_MM, len(points_mm))
    cost, way, turn = _cheapest_line(flat, np.repeat(direction, len(steps)), far, offers)
    cost = np.minimum(cost, MISS).reshape(len(points_mm), len(steps)) + FAR * np.abs(steps)[None, :]
    chosen = _cheapest(cost)
    at = np.arange(len(points_mm))
    picked = chosen + len(steps) * at
    offset = steps[chosen] + (way[picked] * normals).sum(axis=1)
    met = (np.hypot(*way[picked].T) < SEEN_MM) & (turn[picked] < 0.4)
    return np.where(met, offset, np.nan)


def _cheapest_line(
    points_mm: Points, direction: Floats, far: Mask, offers: Sequence[Offer]
) -> tuple[Floats, Points, Floats]:
    """Return what the cheapest printed line of all offers costs at each place, the way there and the turn."""
    cost, way = np.full(len(points_mm), np.inf), np.zeros_like(points_mm)
    turn = np.full(len(points_mm), np.pi)
    for offer in offers:
        to_line, unlike = offer.target.nearest(points_mm, direction)
        asked = (
            (np.hypot(*to_line.T) / LINE_MM) ** 2
            + (unlike / 0.25) ** 2
            + np.where(far, offer.far, offer.near)
        )
        better = asked < cost
        cost[better], way[better], turn[better] = asked[better], to_line[better], unlike[better]
    return cost, way, turn


def _cheapest(cost: Floats) -> npt.NDArray[np.intp]:
    """Return the step chosen at each point of the cheapest way."""
    points, count = cost.shape
    change = np.abs(np.arange(count)[:, None] - np.arange(count)[None, :]) * STEP_MM
    move = np.minimum(MISS * (change / (SLOPE * FOLLOW_MM + STEP_MM)) ** 2 / 4, JUMP)
    total = cost[0].copy()
    came = np.zeros((points, count), dtype=np.intp)
    for k in range(1, points):
        options = total[None, :] + move
        came[k] = np.argmin(options, axis=1)
        total = options[np.arange(count), came[k]] + cost[k]
    chosen = np.empty(points, dtype=np.intp)
    chosen[-1] = int(np.argmin(total))
    for k in range(points - 1, 0, -1):
        chosen[k - 1] = came[k, chosen[k]]
    return chosen
