"""Parts of scans against the same parts of the whole."""

import numpy as np
import pytest

from proofkit.errors import ScanError
from proofkit.scan import open_scan, read_scan
from proofkit.scan.part import opens_in_the_middle, read_part
from tests.scan.scan_files import linear_curve, pixels, write_tiff

LAYOUTS = {
    "strips": {"rowsperstrip": 7, "compression": "lzw", "predictor": True},
    "tiles": {"tile": (16, 32), "compression": "deflate"},
    "raw": {},
    "one strip": {"rowsperstrip": 201, "compression": "lzw"},
}


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS.keys())
@pytest.mark.parametrize(("samples", "photometric"), [(1, "minisblack"), (1, "miniswhite"), (3, "rgb")])
@pytest.mark.parametrize("orientation", [1, 3, 6])
def test_a_part_is_that_of_the_whole(tmp_path, samples, photometric, orientation, layout):
    path = write_tiff(
        tmp_path / "a.tif", pixels(8, samples), photometric=photometric,
        extratags=[(274, "H", 1, orientation, True)], **layout,
    )  # fmt: skip
    file, curve = open_scan(path), linear_curve(8, samples)
    whole = read_scan(file, curve)
    part, (x0, y0) = read_part(file, curve, (37, 50, 90, 3000))
    assert (x0, y0) == (32, 48)
    assert np.array_equal(part.plane, whole.plane[48:, 32:90])
    assert np.array_equal(part.levels[0], part.plane)


def test_nothing_of_the_scan(tmp_path):
    file = open_scan(write_tiff(tmp_path / "a.tif", pixels(8, 1)))
    with pytest.raises(ScanError, match="has no box"):
        read_part(file, linear_curve(8, 1), (150, 0, 200, 10))


def test_which_files_open_in_the_middle(tmp_path):
    found = {
        name: opens_in_the_middle(open_scan(write_tiff(tmp_path / f"{k}.tif", pixels(8, 3), **layout)))
        for k, (name, layout) in enumerate(LAYOUTS.items())
    }
    assert found == {"strips": True, "tiles": True, "raw": True, "one strip": False}
