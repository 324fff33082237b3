"""The plates that can be printed, by name."""

from collections.abc import Callable

from tests.simulate.cove_plate import make_cove_plate
from tests.simulate.mill_plate import make_mill_plate
from tests.simulate.plate import Plate
from tests.simulate.trial_plate import make_trial_plate

PLATES: dict[str, Callable[[int], Plate]] = {
    "trial": make_trial_plate,
    "mill": make_mill_plate,
    "cove": make_cove_plate,
}


def make_plate(name: str, seed: int = 1) -> Plate:
    """Return the plate of that name (a key of `PLATES`), drawn by the hand of `seed`."""
    return PLATES[name](seed)
