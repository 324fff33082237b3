"""A scan whose lamp falls off is evened by a blank sheet under the same lamp."""

import numpy as np
import pytest

from proofkit.errors import CalibrationError
from proofkit.reflectance.flat_field import evened, flat_gain
from proofkit.scan import open_scan, read_scan
from tests.scan.scan_files import linear_curve, write_tiff

SHAPE = (700, 900)
ROWS, COLUMNS = np.mgrid[: SHAPE[0], : SHAPE[1]]
LAMP = 1 - 0.12 * (ROWS / SHAPE[0] - 0.5) ** 2 - 0.08 * COLUMNS / SHAPE[1]


def write(folder, name, light, *, ppi=600):
    return write_tiff(folder / name, np.rint(light.clip(0, 1) * 65535).astype(np.uint16), ppi=ppi)


def blank(seed=1, shape=SHAPE):
    """Paper with grain and a few specks of dust."""
    paper = 0.85 * (1 + 0.01 * np.random.default_rng(seed).standard_normal(shape))
    paper[100:104, 200:204] = 0.2
    return paper


def test_the_lamp_is_taken_out(tmp_path):
    sheet = np.where((COLUMNS // 60) % 2 == 0, 0.8, 0.3)
    file = open_scan(write(tmp_path, "sheet.tif", sheet * LAMP))
    curve = linear_curve(16, 1)
    gain = flat_gain(write(tmp_path, "flat.tif", blank() * LAMP), file, curve, None)
    scan = evened(read_scan(file, curve), gain)
    light = scan.plane / 65535
    # Levels stay relative to the lamp's middle; what was 13 % of unevenness is under half a percent.
    for level in (0.8, 0.3):
        part = light[sheet == level]
        assert np.ptp(part) / part.mean() < 0.01
        assert part.mean() == pytest.approx(level * np.median(LAMP), rel=0.004)
    assert np.ptp(scan.overview[:, :20]) < 0.01


@pytest.mark.parametrize(("shape", "ppi"), [((700, 800), 600), (SHAPE, 300)])
def test_another_size_or_resolution_is_refused(tmp_path, shape, ppi):
    file = open_scan(write(tmp_path, "sheet.tif", blank()))
    path = write(tmp_path, "flat.tif", blank(shape=shape), ppi=ppi)
    with pytest.raises(CalibrationError, match="must be alike"):
        flat_gain(path, file, linear_curve(16, 1), None)


def test_a_print_is_no_blank_sheet(tmp_path):
    file = open_scan(write(tmp_path, "sheet.tif", blank()))
    dark = blank()
    dark[200:600, 200:800] *= 0.2
    with pytest.raises(CalibrationError, match="blank sheet that covers"):
        flat_gain(write(tmp_path, "flat.tif", dark), file, linear_curve(16, 1), None)
