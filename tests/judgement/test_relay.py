import sqlite3
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from proofkit.columns import REPEATABILITY, make_table
from proofkit.judgement.judge import judge
from proofkit.judgement.relay import relay_floor, relay_gate
from proofkit.ledger.connection import close_ledger, open_ledger
from proofkit.ledger.repeatability import find_repeatability, on_older_repeatability, save_repeatability
from tests.judgement.press import print_edition, verdicts


def table(*rows):
    keys = ("region", "measure", "mean", "relay_sd", "freedom")
    return make_table([dict(zip(keys, row, strict=True)) for row in rows], REPEATABILITY)


def test_without_a_study_nothing_is_held_back():
    assert relay_floor(table()) == {}
    assert relay_gate(table()) == ()


def test_scatter_is_pooled_over_regions_by_degrees_of_freedom():
    # By algebra: (4 * 3² + 12 * 1²) / 16 = 3; linear scale.
    found = relay_floor(
        table(("sky", "plate_tone_density", 0.05, 3.0, 4.0), ("wall", "plate_tone_density", 0.08, 1.0, 12.0))
    )
    assert found["plate_tone_density"] == pytest.approx(np.sqrt(3.0))


def test_loads_scatter_in_proportion():
    # By algebra: the logarithm moves by the relative change.
    assert relay_floor(table(("sky", "line_load_um", 50.0, 0.5, 9.0)))["line_load_um"] == pytest.approx(0.01)


def test_measures_that_are_not_judged_are_left_out():
    assert relay_floor(table(("sky", "lines_per_mm", 6.0, 0.01, 9.0))) == {}


@pytest.mark.parametrize(
    ("measure", "mean", "good", "bad", "word"),
    [
        ("plate_tone_density", 0.05, 0.0099, 0.0101, "plate tone"),
        ("line_load_um", 50.0, 0.99, 1.01, "line load"),
    ],
)
def test_the_gate_closes_beyond_what_practice_allows(measure, mean, good, bad, word):
    assert relay_gate(table(("sky", measure, mean, good, 9.0))) == ()
    (reason,) = relay_gate(table(("sky", measure, mean, bad, 9.0)))
    assert word in reason
    assert "allowed is" in reason


def test_one_noisy_region_of_many_does_not_close_the_gate():
    rows = [(f"r{k}", "plate_tone_density", 0.05, 0.001, 9.0) for k in range(9)]
    assert relay_gate(table(*rows, ("bad", "plate_tone_density", 0.05, 0.02, 9.0))) == ()


def test_a_scanner_that_does_not_repeat_raises_no_flag_and_says_why():
    measured = print_edition(["overwiped", None, None], seed=3)
    assert verdicts(judge(measured))["5"][0] == "look again"
    judged = judge(replace(measured, repeatability=table(("sky", "plate_tone_density", 0.05, 0.03, 9.0))))
    assert judged.findings.empty
    assert {verdict for verdict, _ in verdicts(judged).values()} == {"standard", "not comparable"}
    assert "0.030 D" in judged.judgement["reason"].iloc[4]
    assert judged.remarks[0].startswith("No flags:")


def test_the_spread_of_good_pulls_is_never_below_the_scanners_own():
    measured = print_edition([None] * 6, seed=4)
    noisy = replace(measured, repeatability=table(("sky", "line_load_um", 50.0, 0.9, 9.0)))
    for given in (judge(measured), judge(noisy)):
        loads = given.limits[given.limits["measure"] == "line_load_um"]
        assert not loads.empty
    relative = loads["spread"] / loads["centre"]
    assert (relative >= 0.9 / 50.0 * 0.999).all()


def test_the_study_is_kept_in_the_ledger(tmp_path):
    ledger = open_ledger(tmp_path / "ledger.sqlite")
    assert find_repeatability(ledger).empty
    kept = table(("sky", "plate_tone_density", 0.1 + 0.2, 0.001, 9.0))
    save_repeatability(ledger, table(("sky", "plate_tone_density", 0.05, 0.02, 3.0)))
    save_repeatability(ledger, kept)
    pd.testing.assert_frame_equal(find_repeatability(ledger), kept)
    close_ledger(ledger)


@pytest.mark.parametrize(
    ("of_version", "rows", "remarks"),
    [
        ("older", (("sky", "plate_tone_density", 0.1, 0.001, 9.0),), 1),
        ("today's", (("sky", "plate_tone_density", 0.1, 0.001, 9.0),), 0),
        ("older", (), 0),
    ],
)
def test_a_study_by_an_older_program_is_said_to_be_one(tmp_path, monkeypatch, of_version, rows, remarks):
    ledger = open_ledger(tmp_path / "ledger.sqlite")
    assert on_older_repeatability(ledger) == []
    with monkeypatch.context() as older:
        if of_version == "older":
            older.setattr("proofkit.ledger.repeatability.measure_version", lambda: "0.0.1+0123456789ab")
        save_repeatability(ledger, table(*rows))
    said = on_older_repeatability(ledger)
    assert len(said) == remarks
    assert all("measured by another version" in sentence for sentence in said)
    close_ledger(ledger)


def test_a_ledger_made_before_there_were_studies_gets_the_table(tmp_path):
    path = tmp_path / "ledger.sqlite"
    close_ledger(open_ledger(path))
    with sqlite3.connect(path) as old:
        old.execute("DROP TABLE proofkit_repeatability")
    old.close()
    ledger = open_ledger(path)
    assert find_repeatability(ledger).empty
    close_ledger(ledger)
