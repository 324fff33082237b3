"""A region's cells hold the pixels of the scan as they are."""

import numpy as np
import pytest

from proofkit.laying.rectify import Box, sheet_maps
from proofkit.measures.raster import code_box, reflectances
from proofkit.reflectance import paper_level
from proofkit.scan.types import Scan
from tests.lines.papers import even_paper
from tests.measures.test_fine_picture import laying_of


@pytest.mark.parametrize("turn_deg", [0.0, 1.3, 90.0, 181.0])
def test_each_cell_is_its_nearest_pixel_over_its_paper(turn_deg):
    plane = np.random.default_rng(3).integers(5_000, 60_000, (330, 420)).astype(np.uint16)
    shift = {0.0: (-8.2, 11.4), 1.3: (20.0, 30.0), 90.0: (30.0, 300.0), 181.0: (400.0, 300.0)}[turn_deg]
    laying = laying_of(23.6, *shift, turn_deg)
    laying.warp_px[:] = np.random.default_rng(4).normal(0, 2, laying.warp_px.shape)
    box = Box(1.0, 0.7, 257, 190, 1 / 23.6)
    scan = Scan(None, plane, np.zeros((1, 1, 3), np.float32), 1, "linear")
    cells = reflectances(code_box(scan, even_paper(0.8), laying, box))
    x, y = sheet_maps(laying, box)
    inside = (x >= -0.5) & (y >= -0.5) & (x <= 419.5) & (y <= 329.5)
    pixel = plane[np.clip(np.rint(y), 0, 329).astype(int), np.clip(np.rint(x), 0, 419).astype(int)]
    wanted = pixel / 65535 / paper_level(even_paper(0.8), x, y)
    # A place half way between pixels may fall to either: places are told to 1e-5 px in 32 bits.
    between = np.minimum(np.abs(x % 1 - 0.5), np.abs(y % 1 - 0.5)) < 1e-4
    sure = inside & ~between
    assert sure.mean() > 0.5
    assert cells[sure] == pytest.approx(wanted[sure], rel=1e-5, abs=0.5 / 65535 / 0.8)
    assert np.isnan(cells[~inside & ~between]).all()
