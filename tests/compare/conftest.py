"""Two small states of one plate, pulled twice each."""

import pytest

from tests.accuracy.states import draw_pair
from tests.heldout.states import Work


@pytest.fixture(scope="session")
def pair(tmp_path_factory):
    """Pulls a1, a2 of the plate, b1, b2 after 5 strokes were cut, 5 burnished, 4 deepened and 3 scratches made."""
    folder = tmp_path_factory.mktemp("states")
    return draw_pair(folder, 31, size_mm=(36.0, 32.0), work=Work(5, 5, 4, scratches=3))
