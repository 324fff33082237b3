"""Scans that are replaced in the course of a check or after it, and what an older program has left."""

import pandas as pd
import pytest

from proofkit.check import check
from proofkit.check.measuring import measure_pile
from proofkit.columns import REPEATABILITY, make_table
from proofkit.errors import ScanError
from proofkit.folder.read import read_edition
from proofkit.ledger.connection import close_ledger, open_ledger
from proofkit.ledger.repeatability import save_repeatability
from proofkit.looking import laid_sight
from proofkit.sheet import make_standard
from proofkit.workers.attempt import attempt


def measure(folder):
    """Do the first half of a check, and return table `measurements`."""
    ledger = open_ledger(folder / "ledger.sqlite")
    try:
        return measure_pile(read_edition(folder), ledger, None, lambda *_: None).measured.measurements
    finally:
        close_ledger(ledger)


@pytest.mark.parametrize("when", ["before it is read", "after it was read"])
def test_a_standard_replaced_in_the_course_of_a_check_is_not_kept_as_the_one_before(
    edition, checked, monkeypatch, when
):
    """Once it is put back, all numbers are those of an undisturbed check."""
    path, other = edition / "scans" / "pull_3.tif", edition / "scans" / "pull_4.tif"
    whole = path.read_bytes()

    def made(*given):
        if when == "before it is read":
            path.write_bytes(other.read_bytes())
        standard = make_standard(*given)
        path.write_bytes(other.read_bytes())
        return standard

    with monkeypatch.context() as patched:
        patched.setattr("proofkit.check.setting_out.make_standard", made)
        with pytest.raises(ScanError, match=r"standard, pull '3': [Ss]can 'pull_3\.tif' was changed while"):
            measure(edition)
    path.write_bytes(whole)
    expected = pd.read_parquet(checked / "results" / "measurements.parquet")
    pd.testing.assert_frame_equal(measure(edition), expected, check_exact=True, check_dtype=False)


def test_a_scan_replaced_since_it_was_measured_is_not_looked_at_as_it_was_laid(checked):
    result = check(checked)
    pull = next(pull for pull in result.measured.edition.pulls if pull.pull == "2")
    given = (result.measured.edition, pull, checked, result.sheets["2"], (60.0, 40.0))
    assert laid_sight(*given).pyramid.sha256 == result.sheets["2"].sheet["sha256"]
    (checked / "scans" / "pull_2.tif").write_bytes((checked / "scans" / "pull_4.tif").read_bytes())
    with pytest.raises(ScanError, match=r"'pull_2\.tif' was changed since it was measured"):
        laid_sight(*given)


def test_a_sheet_is_not_kept_when_the_flat_field_came_while_it_was_measured(edition, monkeypatch):
    settings = edition / "edition.toml"
    settings.write_text(settings.read_text().replace("[capture]", '[capture]\nflat_field = "blank.tif"'))
    measure(edition)
    scan = edition / "scans" / "pull_5.tif"
    scan.write_bytes(scan.read_bytes() + b"\0")  # a new sheet

    def attempted(*given):
        outcome = attempt(*given)
        (edition / "blank.tif").write_bytes(b"no picture")
        return outcome

    monkeypatch.setattr("proofkit.check.fresh.attempt", attempted)
    ledger = open_ledger(edition / "ledger.sqlite")
    pile = measure_pile(read_edition(edition), ledger, None, lambda *_: None)
    close_ledger(ledger)
    assert pile.new_sheets == 0
    assert (
        "The flat field 'blank.tif' was changed while 'pull_5.tif' was measured"
        in pile.measured.failures["5"]
    )


def test_a_check_says_that_the_relay_study_is_of_an_older_program(checked, monkeypatch):
    study = make_table(
        [{"region": "bare ground", "measure": "plate_tone_density", "relay_sd": 1e-4, "freedom": 9.0}],
        REPEATABILITY,
    )
    ledger = open_ledger(checked / "ledger.sqlite")
    with monkeypatch.context() as older:
        older.setattr("proofkit.ledger.repeatability.measure_version", lambda: "0.0.1+0123456789ab")
        save_repeatability(ledger, study)
    close_ledger(ledger)
    page = check(checked).report.read_text(encoding="utf-8")
    assert "was measured by another version of this program" in page
