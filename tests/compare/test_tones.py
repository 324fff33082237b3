"""Two states of a simulated plate that differ in their areas of tone alone."""

from html import unescape

import numpy as np
import pandas as pd
import pytest
from shapely import from_wkt

from proofkit.cli.commands import main
from tests.accuracy.tones import OVERLAP, draw_toned_pair

pytestmark = pytest.mark.slow

SEED = 33


@pytest.fixture(scope="module")
def scans(tmp_path_factory):
    folder = tmp_path_factory.mktemp("tones")
    return folder, *draw_toned_pair(folder, SEED, (40.0, 36.0))


def test_tones_from_scan_to_page(scans, capsys):
    folder, two, _ = scans
    out = folder / "out"
    assert main(["compare", str(folder / "a"), str(folder / "b"), "--out", str(out)]) == 0
    assert "tone" in capsys.readouterr().out
    areas = pd.read_csv(out / "changed_areas.csv")
    told = areas[areas["work"] == "tone"]
    shapes = from_wkt(told["wkt"].to_numpy())
    # The plate frame of the first scan is the copper's up to a turn and shift of some hundredths of a millimetre,
    # and its stretch of up to 1 %: the overlap asked for is far looser.
    for change in two.changes:
        shares = [
            shape.intersection(change.outline).area / shape.union(change.outline).area for shape in shapes
        ]
        best = int(np.argmax(shares))
        if change.kind == "same":
            assert shares[best] < 0.05
        else:
            # Over line work only the ground between the lines is seen, and dense lines leave none.
            assert shares[best] > (0.3 if change.over_lines else OVERLAP), change.kind
            assert told["kind"].iloc[best] == change.kind
    assert len(told) == sum(change.kind != "same" for change in two.changes)
    rising = told["tone_after_density"] > told["tone_before_density"]
    assert (rising == told["kind"].isin(["added", "deepened"])).all()
    page = unescape((out / "report.html").read_text())
    assert page.count('class="drawn tone added"') >= 1
    assert 'class="drawn tone removed"' in (out / "changes.svg").read_text()


def test_two_pulls_of_a_toned_state_show_no_change(scans, capsys):
    folder, _, _ = scans
    pulls = sorted((folder / "a").iterdir())
    assert main(["compare", *map(str, pulls), "--out", str(folder / "same")]) == 0
    assert "no change" in capsys.readouterr().out
    assert len(pd.read_csv(folder / "same" / "changed_areas.csv")) == 0
    assert len(pd.read_csv(folder / "same" / "changes.csv")) == 0
