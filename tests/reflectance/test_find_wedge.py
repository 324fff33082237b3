"""Wedges that nobody said the place of: found where they were drawn, at any turn, and missed with a word."""

import cv2
import numpy as np
import pytest

from proofkit.errors import CalibrationError
from proofkit.folder.edition import Capture, Wedge
from proofkit.quality import Quality
from proofkit.reflectance import tone_curve
from proofkit.reflectance.find_wedge import find_wedge
from proofkit.scan import open_scan
from proofkit.units import density
from tests.scan.scan_files import write_tiff

SHAPE = (1500, 1900)
SIDE, WIDTH = 42.0, 60.0


def encoded(light):
    """sRGB codes by IEC 61966-2-1."""
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055)


def scan_of(tmp_path, densities, turn_deg, start, *, along=True):
    """A hatched plate on paper, with a wedge that begins at `start` and runs at `turn_deg` down from x."""
    rows, columns = np.mgrid[: SHAPE[0], : SHAPE[1]].astype(float)
    light = np.full(SHAPE, 0.8)
    light[200:1200, 120:620] = 0.55
    light[200:1200:11, 120:620] = 0.08
    a = np.radians(turn_deg)
    u = (columns - start[0]) * np.cos(a) + (rows - start[1]) * np.sin(a)
    v = -(columns - start[0]) * np.sin(a) + (rows - start[1]) * np.cos(a)
    k = np.floor(u / SIDE).astype(int)
    inside = (k >= 0) & (k < len(densities)) & (v > 0) & (v < WIDTH)
    steps = np.asarray(densities if along else densities[::-1])
    light[inside] = 10 ** -steps[k[inside]]
    light = cv2.GaussianBlur(light, (0, 0), 0.8)
    light += np.random.default_rng(2).normal(0, 1, SHAPE) * 0.006 * np.sqrt(0.02 + light)
    codes = np.rint(255 * encoded(light.clip(0, 1))).astype(np.uint8)
    return open_scan(write_tiff(tmp_path / "a.tif", codes))


TWENTY = tuple(np.round(0.05 + 0.1 * np.arange(20), 2))


@pytest.mark.parametrize(
    ("turn", "start", "along"),
    [(0, (800, 300), True), (4, (800, 300), False), (90, (1500, 150), True), (-7, (750, 900), True)],
)
def test_a_wedge_of_twenty_steps(tmp_path, turn, start, along):
    file = scan_of(tmp_path, TWENTY, turn, start, along=along)
    found = np.array(find_wedge(file, Wedge(TWENTY, ())).corners_px)
    a = np.radians(turn)
    axis, across = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
    ends = [np.array(start) + WIDTH / 2 * across, np.array(start) + WIDTH / 2 * across + 20 * SIDE * axis]
    ends = ends if along else ends[::-1]
    assert found[:2].mean(axis=0) == pytest.approx(ends[0], abs=5)
    assert found[2:].mean(axis=0) == pytest.approx(ends[1], abs=5)
    # Read at the codes of IEC 61966-2-1 the steps have their densities, to half a code at the light end.
    curve = tone_curve(file, Capture(wedge=Wedge(TWENTY, ())))
    at = 255 * encoded(10.0 ** -np.array(TWENTY[:12]))
    assert density(np.interp(at, np.arange(256), curve.tables[0])) == pytest.approx(TWENTY[:12], abs=0.012)
    assert curve.quality == Quality.NONE


def test_no_wedge_is_said_and_the_sheet_goes_on(tmp_path):
    file = scan_of(tmp_path, TWENTY[:7], 0, (800, 300))
    with pytest.raises(CalibrationError, match="No step wedge of 20 steps was found in scan"):
        find_wedge(file, Wedge(TWENTY, ()))
    assert Quality.NO_WEDGE in tone_curve(file, Capture(wedge=Wedge(TWENTY, ()))).quality
