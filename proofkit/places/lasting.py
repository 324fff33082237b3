"""Over which pulls a mark lasts, and whether it keeps to the plate or to the press."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from proofkit.arrays import Floats, Mask
from proofkit.places.types import Place

Lasting = Literal["once", "from here on", "up to here", "for a while", "on and off"]
KeepsTo = Literal["", "plate", "press"]

SAME_PLACE_MM = 0.5
"""Marks this close on two pulls are one: laying and middles err by some 0.1 mm. [mm]"""

RUN_SHARE = 0.75
"""A run may miss every fourth pull: a faint mark is not found on each of them. [-]"""

FEWEST_AT_AN_END = 3
"""Two pulls at the end of a pile may have the same mark by chance or by one hair; three in a row hardly. [pulls]"""


@dataclass(frozen=True, slots=True)
class Seen:
    """Where else a mark is."""

    pulls: tuple[str, ...]
    """Other pulls with it, in order of printing."""
    lasting: Lasting
    keeps_to: KeepsTo
    """Known only when the plate was turned on the bed between pulls that have the mark."""


def seen_on(
    places: Sequence[Place],
    pulls: Sequence[str],
    *,
    turned: Collection[str] = (),
    size_mm: tuple[float, float] = (0.0, 0.0),
) -> list[Seen]:
    """Return for each place on which other pulls there is one of the same sign.

    Parameters
    ----------
    places : sequence of Place
    pulls : sequence of str
        All pulls that were looked through, in order of printing.
    turned : collection of str
        Pulls printed with the plate turned end for end on the bed. A mark of blanket, bed or roller is then at the
        opposite place of the plate.
    size_mm : tuple of float
        Width and height of the plate; needed with `turned`. [mm]
    """
    at = np.array([(place.x_mm, place.y_mm) for place in places]).reshape(-1, 2)
    over = np.array([place.pull in turned for place in places], dtype=np.bool_)
    on_press = np.where(over[:, None], np.array(size_mm) - at, at)
    dark = np.array([place.ink_change > 0 for place in places], dtype=np.bool_)
    order = {pull: k for k, pull in enumerate(pulls)}
    number = np.array([order[place.pull] for place in places], dtype=np.intp)
    seen = []
    for k in range(len(places)):
        same = dark == dark[k]
        by_plate, by_press = same & _near(at, k), same & _near(on_press, k)
        keeps_to = _keeps_to(over[by_plate], over[by_press])
        with_it = sorted(set(number[by_press if keeps_to == "press" else by_plate].tolist()))
        seen.append(
            Seen(
                tuple(pulls[other] for other in with_it if other != number[k]),
                _lasting(with_it, len(pulls)),
                keeps_to,
            )
        )
    return seen


def _near(at: Floats, k: int) -> Mask:
    return np.asarray(np.hypot(*(at - at[k]).T) <= SAME_PLACE_MM, dtype=np.bool_)


def _keeps_to(turns_by_plate: Mask, turns_by_press: Mask) -> KeepsTo:
    """Tell what a mark keeps to from the lie of the plate on the pulls that have it, in either frame."""
    stays_on_plate = bool(turns_by_plate.any() and not turns_by_plate.all())
    stays_on_press = bool(turns_by_press.any() and not turns_by_press.all())
    if stays_on_plate == stays_on_press:
        return ""
    return "plate" if stays_on_plate else "press"


def _lasting(with_it: Sequence[int], count: int) -> Lasting:
    """Return how the pulls that have a mark lie among all.

    >>> _lasting([4], 9), _lasting([5, 6, 8], 9), _lasting([0, 1, 2], 9), _lasting([3, 4], 9), _lasting([1, 7], 9)
    ('once', 'from here on', 'up to here', 'for a while', 'on and off')
    """
    if len(with_it) == 1:
        return "once"
    if len(with_it) < RUN_SHARE * (with_it[-1] - with_it[0] + 1):
        return "on and off"
    if len(with_it) >= FEWEST_AT_AN_END:
        if with_it[-1] == count - 1 and with_it[0] > 0:
            return "from here on"
        if with_it[0] == 0 and with_it[-1] < count - 1:
            return "up to here"
    return "for a while"
