import sqlite3
import struct
from dataclasses import fields

import numpy as np
import pytest
from sqlalchemy import event

from proofkit.errors import LedgerError
from proofkit.ledger.connection import close_ledger, open_ledger
from proofkit.ledger.sheets import find_sheet, save_sheet
from tests.ledger.results import key_of, result_of


def bits(value):
    """Return the 64 bits of a number, so that -0.0 and 0.0 differ."""
    return struct.pack("<d", value)


def assert_same_record(first, second):
    for field in fields(first):
        a, b = getattr(first, field.name), getattr(second, field.name)
        if isinstance(a, np.ndarray):
            assert a.dtype == b.dtype
            assert a.tobytes() == b.tobytes(), field.name
        else:
            assert a == b, field.name
            assert type(a) is type(b), field.name


@pytest.mark.parametrize("seed", range(5))
def test_a_sheet_comes_back_to_the_last_bit(any_ledger, seed):
    saved = result_of(seed)
    assert save_sheet(any_ledger, key_of(), saved) is True
    found = find_sheet(any_ledger, key_of())
    assert len(found.rows) == len(saved.rows)
    for row, original in zip(found.rows, saved.rows, strict=True):
        measured = {name: value for name, value in original.items() if value == value}  # noqa: PLR0124 (NaN)
        assert row.keys() == measured.keys()
        for name, value in measured.items():
            assert row[name] == value
            if isinstance(value, float):
                assert bits(row[name]) == bits(value), name
    assert found.histograms == saved.histograms
    assert np.isnan(found.sheet["shear"])
    assert {k: v for k, v in found.sheet.items() if k != "shear"} == {
        k: v for k, v in saved.sheet.items() if k != "shear"
    }
    assert found.tone_picture.tobytes() == saved.tone_picture.tobytes()
    assert found.tone_picture.dtype == np.float32
    assert found.corners_px.tobytes() == saved.corners_px.tobytes()
    assert_same_record(found.laying, saved.laying)
    assert_same_record(found.paper, saved.paper)


@pytest.mark.parametrize("part", ["scan", "setup", "standard", "version"])
def test_a_sheet_is_found_only_if_nothing_it_depends_on_has_changed(ledger, part):
    save_sheet(ledger, key_of(), result_of())
    assert find_sheet(ledger, key_of(**{part: "f"})) is None
    assert find_sheet(ledger, key_of()) is not None


def test_saving_twice_doubles_nothing(ledger):
    assert save_sheet(ledger, key_of(), result_of(1)) is True
    assert save_sheet(ledger, key_of(), result_of(2)) is False
    with sqlite3.connect(ledger.name) as plain:
        assert plain.execute("select count(*) from proofkit_sheets").fetchone() == (1,)
        assert plain.execute("select count(*) from proofkit_regions").fetchone() == (2,)
    plain.close()
    assert find_sheet(ledger, key_of()).rows[0]["tone_fraction"] == result_of(1).rows[0]["tone_fraction"]


def test_a_sheet_that_cannot_be_kept_whole_is_not_kept_at_all(ledger):
    result = result_of()
    result.rows.append(
        dict(result.rows[0])
    )  # the same region twice: the last insert of the transaction fails
    save_sheet(ledger, key_of(), result)
    assert find_sheet(ledger, key_of()) is None
    with sqlite3.connect(ledger.name) as plain:
        assert plain.execute("select count(*) from proofkit_sheets").fetchone() == (0,)
    plain.close()


def test_measures_can_be_asked_for_in_plain_sql(ledger):
    save_sheet(ledger, key_of(), result_of())
    with sqlite3.connect(ledger.name) as plain:
        asked = "select value from proofkit_measures where measure = 'line_load_um' and region = 'sky'"
        assert plain.execute(asked).fetchall() == [(result_of().rows[0]["line_load_um"],)]
    plain.close()


def test_what_cannot_be_unpacked_is_told_in_one_line(tmp_path):
    ledger = open_ledger(tmp_path / "ledger.sqlite")
    save_sheet(ledger, key_of(), result_of())
    close_ledger(ledger)
    with sqlite3.connect(ledger.name) as plain:
        plain.execute("update proofkit_sheets set arrays = x'00'")
    plain.close()
    ledger = open_ledger(tmp_path / "ledger.sqlite")
    with pytest.raises(LedgerError, match="cannot be read") as caught:
        find_sheet(ledger, key_of())
    assert "\n" not in str(caught.value)
    close_ledger(ledger)


def test_a_full_disk_is_told_and_nothing_is_half_written(tmp_path):
    # SQLite raises the same fault (SQLITE_FULL) when its largest number of pages is reached as when the disk is.
    ledger = open_ledger(tmp_path / "ledger.sqlite")
    ledger.engine.dispose()
    with sqlite3.connect(tmp_path / "ledger.sqlite") as plain:
        pages = plain.execute("pragma page_count").fetchone()[0]
    plain.close()
    event.listen(
        ledger.engine, "connect", lambda plain, _: plain.execute(f"pragma max_page_count = {pages + 12}")
    )
    kept = []

    def keep_on():
        while True:
            save_sheet(ledger, key_of(scan=f"{len(kept):x}"), result_of(len(kept)))
            kept.append(1)

    with pytest.raises(LedgerError, match="Make room on the disk") as caught:
        keep_on()
    assert "\n" not in str(caught.value)
    with sqlite3.connect(tmp_path / "ledger.sqlite") as plain:
        assert plain.execute("select count(*) from proofkit_sheets").fetchone() == (len(kept),)
        assert plain.execute("select count(*) from proofkit_regions").fetchone() == (2 * len(kept),)
    plain.close()
    close_ledger(ledger)
