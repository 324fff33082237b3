"""A simulated pencil drawing and the print after it, from scan to page."""

from html import unescape

import numpy as np
import pandas as pd
import pytest
import tifffile

from proofkit.cli.commands import main
from proofkit.columns import CONTOURS, DEPARTURES, DRAWING, names
from proofkit.compare import compare_with_drawing
from proofkit.errors import ComparisonError
from tests.heldout.drawing import compose, depart, draw_in_pencil, engrave, lay_drawing
from tests.heldout.states import Printing, scan_pull

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def scans(tmp_path_factory):
    """A weak drawing that reads the other way round, and a print with two passages moved by 1 mm."""
    folder = tmp_path_factory.mktemp("drawing")
    composition = compose(5, (44.0, 36.0))
    changed, _ = depart(composition, 5, 2)
    scan_pull(folder / "print.tif", engrave(changed, 5), Printing(), 5)
    sheet, size = lay_drawing(5, composition, 300.0, mirrored=True)
    draw_in_pencil(folder / "drawing.tif", composition, sheet, size, 300.0, darkness=0.1, seed=5)
    return folder, sheet


def test_a_weak_mirrored_drawing_from_scan_to_page(scans, capsys):
    folder, sheet = scans
    out = folder / "out"
    assert (
        main(
            [
                "compare",
                str(folder / "drawing.tif"),
                str(folder / "print.tif"),
                "--drawing",
                "--out",
                str(out),
            ]
        )
        == 0
    )
    assert "reads mirrored" in capsys.readouterr().out
    row = pd.read_csv(out / "drawing.csv").iloc[0]
    assert row["reading"] == "mirrored"
    np.testing.assert_allclose(
        [row["scale_x"] * sheet.scale[0], row["scale_y"] * sheet.scale[1]], 1.0, atol=0.02
    )
    for name, columns in (("drawing", DRAWING), ("contours", CONTOURS), ("departures", DEPARTURES)):
        assert list(pd.read_csv(out / f"{name}.csv").columns) == names(columns)
    page = unescape((out / "report.html").read_text())
    assert "default-src 'none'" in page
    assert 'class="drawn followed"' in page
    assert (out / "drawing.svg").is_file()


def test_a_sheet_without_lines_is_no_drawing(scans, tmp_path):
    folder, _ = scans
    rng = np.random.default_rng(1)
    codes = np.clip(rng.normal(225, 2, (500, 600)), 0, 255).astype(np.uint8)
    tifffile.imwrite(tmp_path / "blank.tif", codes, resolution=(300, 300), resolutionunit="INCH")
    with pytest.raises(ComparisonError, match="mm of drawn line"):
        compare_with_drawing(tmp_path / "blank.tif", folder / "print.tif", out=tmp_path / "out")


def test_a_drawing_and_states_do_not_go_together(capsys):
    assert main(["compare", "a.tif", "b.tif", "--drawing", "--states", "I", "II"]) == 1
    assert "Name two files" in capsys.readouterr().err
