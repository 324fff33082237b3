"""Reading keeps to its memory: the plane, and little besides."""

import tracemalloc

import numpy as np
import pytest

from proofkit.scan import open_scan, read_scan
from tests.scan.scan_files import linear_curve, write_tiff


@pytest.mark.parametrize("layout", [{"rowsperstrip": 5000}, {"rowsperstrip": 32, "compression": "lzw"}])
@pytest.mark.parametrize("bits", [8, 16])
def test_peak(tmp_path, bits, layout):
    """A sheet of 5000 x 4000 px: 120 MB of codes at 16 bits would show. Uncompressed it is one single strip."""
    row = np.arange(4000 * 3).reshape(4000, 3) % 251
    codes = np.broadcast_to(row, (5000, 4000, 3)).astype(f"u{bits // 8}")
    file = open_scan(write_tiff(tmp_path / "a.tif", codes, **layout))
    del codes
    curve = linear_curve(bits, 3)
    tracemalloc.start()
    scan = read_scan(file, curve)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    sums = scan.overview.size * 8  # of the overview, 64-bit
    assert peak < scan.plane.nbytes + scan.overview.nbytes + 2 * sums + 30_000_000
