"""Two states of a simulated plate: what was done to the copper is known."""

from html import unescape

import numpy as np
import pandas as pd
import pytest
from shapely import from_wkt

from proofkit.cli.commands import main
from proofkit.columns import CHANGED_AREAS, CHANGES, COMPARED, names
from proofkit.compare import compare
from proofkit.errors import ComparisonError
from tests.accuracy.states import Tally, add, truth_of
from tests.heldout.states import Printing, copied, scan_pull

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def both(pair):
    return compare(pair.folder / "a", pair.folder / "b", out=pair.folder / "out")


def test_work_between_two_states_is_found_and_little_else(pair, both):
    tally = Tally()
    add(tally, both.compared.changes, truth_of(pair, both.compared), "pair")
    # The bars of the job: 95 % of the stroke length found, 2 % false.
    assert sum(tally.found.values()) >= 0.95 * sum(tally.true.values()), tally.notes
    assert tally.false <= 0.02 * tally.reported, tally.notes
    assert both.verdict == "changed"


def test_scratches_are_listed_apart(pair, both):
    assert (both.changes["kind"] == "scratch").sum() == 3


def test_a_darker_pull_of_the_same_state_is_no_change(pair, tmp_path):
    result = compare(pair.folder / "a" / "a1.tif", pair.folder / "a" / "a2.tif", out=tmp_path)
    assert result.verdict == "no change"
    assert len(result.changes) == 0


def test_a_copy_of_the_picture_is_not_the_same_plate(pair, tmp_path):
    scan_pull(tmp_path / "copy.tif", copied(pair.two.before, 1, 0.12), Printing(), 5)
    code = main(
        [
            "compare",
            str(pair.folder / "a" / "a1.tif"),
            str(tmp_path / "copy.tif"),
            "--out",
            str(tmp_path / "out"),
        ]
    )
    assert code == 3
    assert "not the same plate" in (tmp_path / "out" / "compared.csv").read_text()
    assert "Not the same plate" in (tmp_path / "out" / "report.html").read_text()
    assert len(pd.read_csv(tmp_path / "out" / "changes.csv")) == 0


def test_a_crop_that_is_coarse_turned_and_mirrored_is_laid(pair, tmp_path):
    lies = Printing(ppi=200, crop_mm=(4.0, 4.0, 30.0, 27.0), turned=1, mirrored=True)
    scan_pull(tmp_path / "part.tif", pair.two.before, lies, 6)
    row = compare(pair.folder / "a" / "a1.tif", tmp_path / "part.tif", out=tmp_path / "out").pulls.iloc[1]
    assert row["relation"] == "same plate"
    assert row["mirrored"]
    # A mirrored sheet turned by 90 deg: the residual turn of the sheet in the scan is up to 2 deg.
    assert min(abs(abs(row["rotation_deg"]) - 90), abs(abs(row["rotation_deg"]) - 270)) < 3
    assert row["stretch_x"] == pytest.approx(1.0, abs=0.02)


def test_tables_have_their_columns_and_outlines(pair, both):
    for name, columns in (("changes", CHANGES), ("changed_areas", CHANGED_AREAS), ("compared", COMPARED)):
        table = pd.read_csv(both.out / f"{name}.csv")
        assert list(table.columns) == names(columns)
        assert len(pd.read_parquet(both.out / f"{name}.parquet")) == len(table)
    lines = from_wkt(both.changes["wkt"].to_numpy())
    # A course drawn straight between points 0.15 mm apart is as long as the line, but for its two half end steps.
    lengths = np.array([line.length for line in lines])
    np.testing.assert_allclose(lengths, both.changes["length_mm"], atol=0.75, rtol=0.05)
    assert (both.changes["load_after_um"] < 0.2 * both.changes["load_before_um"])[
        both.changes["kind"] == "removed"
    ].all()


def test_the_page_is_whole_and_asks_for_nothing(both):
    page = unescape(both.report.read_text())
    assert "default-src 'none'" in page
    assert "http://" not in page.replace("http://www.w3.org", "")
    assert page.count('class="drawn added"') >= (both.changes["kind"] == "added").sum()
    assert (both.out / "changes.svg").read_text().startswith("<svg")


def test_one_scan_cannot_stand_on_both_sides(pair, tmp_path):
    scan = pair.folder / "a" / "a1.tif"
    with pytest.raises(ComparisonError, match="both sides"):
        compare(scan, scan, out=tmp_path)
