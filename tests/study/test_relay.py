"""A re-lay study from scans to table, ledger and page."""

import numpy as np
import pandas as pd
import pytest

from proofkit.cli import main
from proofkit.columns import MEASURES, REPEATABILITY, names
from proofkit.ledger.connection import close_ledger, open_ledger
from proofkit.ledger.repeatability import find_repeatability
from proofkit.study.agreement import agreements
from proofkit.study.repeatability import repeatability_table, unwrapped
from tests.study.relay_sheets import make_relays


@pytest.fixture(scope="module")
def studied(tmp_path_factory):
    """The folder of a study of three lays on two days and a scan of another sheet, and what was said at its end."""
    folder = tmp_path_factory.mktemp("relays")
    make_relays(folder, 3, stranger=True)
    return folder, main(["study", str(folder), "--relay", "--workers", "1"])


@pytest.mark.slow
def test_what_is_left_out_ends_with_3(studied):
    assert studied[1] == 3


@pytest.mark.slow
def test_scatter_is_small_and_in_table_and_ledger_alike(studied):
    folder, _ = studied
    table = pd.read_parquet(folder / "results" / "repeatability.parquet")
    assert list(table.columns) == names(REPEATABILITY)
    assert (table["scans"] == 3).all()
    of = table.set_index(["region", "measure"])
    # Bars of the project: 0.001 D on open ground, 0.5 % of the load.
    assert of.loc[("bare ground", "plate_tone_density"), "relay_sd"] < 0.001
    load = of.loc[("open hatching", "line_load_um")]
    assert load["relay_sd"] / load["mean"] < 0.005
    # The scanner reads the same paper 1.5 % paler on the second day: 0.0066 D.
    paper = table[table["measure"] == "paper_density"].iloc[0]
    assert paper["day_sd"] == pytest.approx(-np.log10(0.985) / np.sqrt(2), rel=0.2)
    ledger = open_ledger(folder / "ledger.sqlite")
    pd.testing.assert_frame_equal(find_repeatability(ledger), table)
    close_ledger(ledger)


@pytest.mark.slow
def test_the_page_names_the_scan_of_another_sheet(studied):
    page = (studied[0] / "results" / "repeatability.html").read_text(encoding="utf-8")
    assert "relays/2_wrong.tif does not show the same sheet" in page
    assert "No operator is told" in page


def lays(rows):
    return pd.DataFrame(rows, columns=["scan", "sheet", "day", "operator"]).set_index("scan", drop=False)


def measured(values):
    table = pd.DataFrame({"pull": list(values), "region": "sky", "line_load_um": list(values.values())})
    return table.reindex(columns=[*table.columns, *(n for n in names(MEASURES) if n not in table.columns)])


def test_sheets_may_differ_and_that_is_no_scatter():
    about = lays([("a", "1", "", ""), ("b", "1", "", ""), ("c", "2", "", ""), ("d", "2", "", "")])
    found = repeatability_table(
        measured({"a": 10.0, "b": 12.0, "c": 50.0, "d": 52.0}), sheets_of(about), about
    )
    (row,) = found.to_dict("records")
    assert row["relay_sd"] == pytest.approx(np.sqrt(2))
    assert row["freedom"] == pytest.approx(2)
    assert np.isnan(row["day_sd"])


def test_a_value_that_is_missing_once_leaves_a_sheet_out():
    about = lays([("a", "1", "", ""), ("b", "1", "", ""), ("c", "2", "", ""), ("d", "2", "", "")])
    found = repeatability_table(
        measured({"a": 10.0, "b": 12.0, "c": 50.0, "d": np.nan}), sheets_of(about), about
    )
    assert found["sheets"].tolist() == [1]
    assert found["mean"].tolist() == [11.0]


def sheets_of(about):
    return pd.DataFrame({"pull": list(about.index)})


def test_directions_that_come_round_do_not_scatter_by_half_a_turn():
    assert np.ptp(unwrapped(np.array([179.5, 0.5, 0.0, 179.0]), 180.0)) == pytest.approx(1.5)
    assert unwrapped(np.array([np.nan]), 180.0).shape == (1,)


def test_two_operators_are_set_against_each_other():
    # By construction: b reads 1.0 more than a on every sheet.
    about = lays([(f"{s}{o}", s, "", o) for s in "123" for o in "ab"])
    values = {f"{s}{o}": 10.0 * int(s) + (o == "b") for s in "123" for o in "ab"}
    (found,) = agreements(measured(values), about)
    assert (found.level, found.first, found.second, found.measure) == ("operator", "a", "b", "line_load_um")
    assert (found.agreement.pairs, found.agreement.bias) == (3, -1.0)
    assert found.agreement.deviation == pytest.approx(0.0)


def test_one_operator_has_nobody_to_agree_with():
    about = lays([("1a", "1", "", "a"), ("1b", "1", "", "a")])
    assert agreements(measured({"1a": 1.0, "1b": 1.0}), about) == []
