from dataclasses import replace

import numpy as np
import pytest

from proofkit.errors import LedgerError
from proofkit.ledger.fine_pictures import STRIP_ROWS, find_known_places, fine_pictures, save_places
from proofkit.ledger.sheets import find_sheet, save_sheet
from proofkit.places import FoundPlaces, Place
from tests.ledger.results import key_of, result_of

ROWS = 2 * STRIP_ROWS + 37


@pytest.fixture
def fine():
    return np.random.default_rng(2).integers(0, 256, (ROWS, 50)).astype(np.uint8)


@pytest.mark.parametrize(
    ("top", "bottom"), [(0, ROWS), (0, 1), (STRIP_ROWS - 1, STRIP_ROWS + 1), (300, ROWS), (ROWS - 1, ROWS)]
)
def test_rows_come_back_bit_by_bit(ledger, fine, top, bottom):
    key = key_of()
    save_sheet(ledger, key, replace(result_of(), fine=fine))
    rows = fine_pictures(ledger, {"3": key.digest})
    for _ in range(2):  # from the ledger, and as held
        np.testing.assert_array_equal(rows("3", top, bottom), fine[top:bottom])


def test_a_sheet_from_the_ledger_does_not_carry_its_fine_picture(ledger, fine):
    save_sheet(ledger, key_of(), replace(result_of(), fine=fine))
    assert find_sheet(ledger, key_of()).fine is None


def test_a_fine_picture_that_is_not_there_is_told(ledger, fine):
    save_sheet(ledger, key_of(), result_of())
    save_sheet(ledger, key_of("d"), replace(result_of(), fine=fine))
    rows = fine_pictures(ledger, {"3": key_of().digest, "4": key_of("d").digest})
    for pull, bottom in (("3", 10), ("4", ROWS + 1), ("4", 4 * STRIP_ROWS)):
        with pytest.raises(LedgerError, match=f"pull '{pull}' in it is not whole"):
            rows(pull, 0, bottom)


def test_places_are_known_by_the_sheets_they_were_found_in(ledger):
    place = Place("3", "slit", 0.1 + 0.2, 2.0, 3.0, 0.2, 90.0, -0.3, 12.5)
    found = FoundPlaces((place,), ("few",))
    assert find_known_places(ledger, "a" * 64) is None
    save_places(ledger, "a" * 64, found)
    save_places(ledger, "a" * 64, found)
    assert find_known_places(ledger, "a" * 64) == found
    assert find_known_places(ledger, "b" * 64) is None
