"""A step wedge is fed through the calibration and its densities come back; values in wedge_20_steps.csv."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from proofkit.folder.edition import Capture, Wedge
from proofkit.reflectance import tone_curve
from proofkit.reflectance.colour import lightness
from proofkit.scan import open_scan
from proofkit.units import density
from tests.scan.scan_files import write_tiff

STEPS = pd.read_csv(Path(__file__).with_name("wedge_20_steps.csv"), comment="#")
CORNERS = ((10.0, 10.0), (10.0, 49.0), (809.0, 49.0), (809.0, 10.0))


def scan_of(tmp_path, codes, channels):
    """A wedge of steps 40 px wide on a black ground."""
    picture = np.zeros((60, 820), dtype=codes.dtype)
    picture[10:50, 10:810] = np.repeat(codes, 40)
    return open_scan(write_tiff(tmp_path / "a.tif", picture if channels == 1 else np.dstack([picture] * 3)))


@pytest.mark.parametrize("channels", [1, 3])
@pytest.mark.parametrize("bits", [8, 16])
def test_densities_come_back(tmp_path, bits, channels):
    full = 255 if bits == 8 else 65535
    codes = np.rint(STEPS.code / 255 * full).astype(f"u{bits // 8}").to_numpy()
    wedge = Wedge(tuple(STEPS.density), CORNERS)
    curve = tone_curve(scan_of(tmp_path, codes, channels), Capture(wedge=wedge, tone_curve="wedge"))
    # Read at the codes before rounding: 16 bits must give the densities, 8 bits within half a code
    # (0.002 D at the light end, 0.012 D at the dark end).
    at = STEPS.code / 255 * full
    for table in curve.tables:
        found = density(np.interp(at, np.arange(full + 1), table))
        allowed = 1e-3 if bits == 16 else np.linspace(0.002, 0.012, 20)
        assert (np.abs(found - STEPS.density) <= allowed).all()
    assert "20 of 20 steps" in curve.name
    assert curve.residual_density < (1e-3 if bits == 16 else 0.008)


def test_between_and_beyond_the_steps(tmp_path):
    """The wedge was encoded as sRGB, so the curve must be that of IEC 61966-2-1 also where there is no step."""
    codes = np.rint(STEPS.code * 257).astype(np.uint16).to_numpy()
    curve = tone_curve(scan_of(tmp_path, codes, 1), Capture(wedge=Wedge(tuple(STEPS.density), CORNERS)))
    whole = tone_curve(scan_of(tmp_path, codes, 1), Capture(tone_curve="sRGB"))
    inside = slice(round(27.4 * 257), round(242.4 * 257))
    assert np.abs(density(curve.tables[0, inside]) - density(whole.tables[0, inside])).max() < 1e-3
    beyond = slice(round(242.4 * 257), 65536)
    assert np.abs(density(curve.tables[0, beyond]) - density(whole.tables[0, beyond])).max() < 1.5e-3


def test_table_is_consistent_with_its_definitions():
    assert density(STEPS.Y) == pytest.approx(STEPS.density.to_numpy(), abs=2e-5)
    assert lightness(STEPS.Y) == pytest.approx(STEPS.lightness.to_numpy(), abs=6e-4)
