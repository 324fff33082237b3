"""sRGB against IEC 61966-2-1:1999 and CIE 15:2004; values in srgb_greys.csv, and a reference library."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from proofkit.folder.edition import Capture
from proofkit.reflectance import tone_curve
from proofkit.reflectance.colour import lab_from_linear_rgb, lightness
from proofkit.reflectance.curves import srgb_to_linear
from proofkit.units import density
from tests.reflectance.colour_library import colour
from tests.reflectance.profiles import scan_file

GREYS = pd.read_csv(Path(__file__).with_name("srgb_greys.csv"), comment="#")


@pytest.mark.parametrize("row", list(GREYS.itertuples()), ids=lambda row: str(row.code))
def test_greys(row):
    luminance = tone_curve(scan_file(channels=1), Capture(tone_curve="sRGB")).tables[0, row.code]
    assert luminance == pytest.approx(row.Y, rel=2e-6, abs=5e-9)
    assert lightness(luminance) == pytest.approx(row.lightness, abs=6e-5, rel=2e-5)
    assert density(luminance) == pytest.approx(row.density, abs=6e-6)


def test_curve_against_colour_science():
    codes = np.linspace(0, 1, 65536)
    assert srgb_to_linear(codes) == pytest.approx(colour.models.eotf_sRGB(codes), abs=1e-7)


@pytest.mark.parametrize(
    ("rgb", "lab"),
    [
        # Four-figure matrix of the standard; computed by two libraries. The tolerance covers their white, which is
        # the tabulated D65 and not the sum of the matrix.
        ((255, 0, 0), (53.2329, 80.1112, 67.2237)),
        ((0, 255, 0), (87.7370, -86.1829, 83.1878)),
        ((0, 0, 255), (32.3026, 79.1981, -107.8504)),
        ((90, 60, 40), (28.2703, 10.6203, 17.6326)),
        ((245, 240, 228), (94.8798, -0.3598, 6.3891)),
        ((255, 255, 255), (100, 0, 0)),
    ],
)
def test_colours(rgb, lab):
    assert lab_from_linear_rgb(srgb_to_linear(np.array(rgb) / 255)) == pytest.approx(lab, abs=0.03)
