import pytest

from tests.laying.plates import hand_hatching, make_plate


@pytest.fixture(scope="session")
def plate():
    """A plate of 24 x 30 mm with about 290 strokes, read from its standard pull at 600 ppi."""
    return make_plate(hand_hatching())
