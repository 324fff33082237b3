"""A mark planted in a scan comes out as a place, in plate mm, in table and report."""

import numpy as np
import pandas as pd
import tifffile

from proofkit.check import check
from proofkit.columns import PLACES, names

MARK_MM = (24.0, 6.0)


def to_px(folder, pull, point_mm):
    """Return where a plate point lies in a scan, by an affine fit to the true positions about it."""
    grid = pd.read_csv(folder / "truth" / "grid.csv", dtype={"pull": str})
    grid = grid[grid["pull"] == pull]
    near = grid[np.hypot(grid["x_mm"] - point_mm[0], grid["y_mm"] - point_mm[1]) < 8]
    design = np.column_stack((near[["x_mm", "y_mm"]], np.ones(len(near))))
    fit = np.linalg.lstsq(design, near[["x_px", "y_px"]].to_numpy(), rcond=None)[0]
    return np.array([*point_mm, 1.0]) @ fit


def test_a_speck_is_told_with_place_and_pictures_and_not_looked_for_twice(edition):
    path = edition / "scans" / "pull_2.tif"
    with tifffile.TiffFile(path) as file:
        codes, ppi = file.asarray(), file.pages[0].tags["XResolution"].value
    x, y = to_px(edition, "2", MARK_MM)
    radius_px = 0.25 * ppi[0] / ppi[1] / 25.4
    i, j = np.indices(codes.shape)
    codes[np.hypot(i - y, j - x) <= radius_px] = 40
    tifffile.imwrite(path, codes, photometric="minisblack", resolution=(400, 400), resolutionunit="INCH")
    result = check(edition)
    places = pd.read_csv(edition / "results" / "places.csv", dtype={"pull": str})
    assert list(places.columns) == names(PLACES)
    assert places["pull"].tolist() == ["2"]
    (place,) = places.to_dict("records")
    assert place["kind"] == "dark speck"
    assert np.hypot(place["x_mm"] - MARK_MM[0], place["y_mm"] - MARK_MM[1]) < 0.3
    assert 0.35 < place["length_mm"] < 0.75
    page = result.report.read_text(encoding="utf-8")
    assert "dark speck" in page
    assert page.count('alt="Pull 2: dark speck') == 1

    said = []
    again = check(edition, progress=lambda what, *_: said.append(what))
    assert "looking for single places" not in said
    pd.testing.assert_frame_equal(again.places, result.places)


def test_an_edition_that_varies_by_intent_has_no_places(checked):
    path = checked / "edition.toml"
    path.write_text(path.read_text().replace('declared = "uniform"', 'declared = "varied"'))
    result = check(checked)
    assert result.places.empty
    assert any("declared varied" in remark for remark in result.judged.remarks)
