"""One pull on two simulated scanners: other resolution, optics, noise, codes. Their numbers agree as they claim."""

from dataclasses import replace

import numpy as np
import pytest

from proofkit.arrays import FULL_SCALE
from proofkit.folder.edition import Capture, Pull
from proofkit.sheet import make_standard, measure_sheet
from tests.accuracy.planted import PATCHES, Pulled, corners, edition_of, light_of, write_pull
from tests.lines.drawn import plane_of
from tests.scan.scan_files import write_tiff
from tests.sheet.proofs import by_region

PRINT = Pulled(film=0.09, depth=0.91, grain=0.002, seed=21)
MEASURES = ("line_load_um", "line_width_um", "plate_tone_density", "ground_between_lines_density")


def encoded(light, curve):
    """Codes by IEC 61966-2-1, or by an exponent."""
    if curve == "sRGB":
        return np.where(
            light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055
        )
    return light ** (1 / float(curve.split()[1]))


def scanned(folder, name, pulled, curve, bits):
    light = plane_of(light_of(pulled), noise=pulled.noise, seed=pulled.noise_seed) / FULL_SCALE
    full = (1 << bits) - 1
    codes = np.rint(full * encoded(light, curve)).astype(f"u{bits // 8}")
    write_tiff(folder / "scans" / f"{name}.tif", codes, ppi=pulled.ppi)
    return Pull(name, f"{name}.tif", corners_px=corners(pulled)), Capture(tone_curve=curve)


@pytest.fixture(scope="module")
def pair(tmp_path_factory):
    folder = tmp_path_factory.mktemp("scanners")
    standard_pull = write_pull(folder, "standard", Pulled())
    edition = edition_of(folder, standard_pull)
    standard = make_standard(edition, standard_pull)
    results = []
    for name, pulled, curve, bits in (
        ("one", replace(PRINT, optics_mm=0.017, noise=0.005, noise_seed=31), "sRGB", 8),
        (
            "other",
            replace(PRINT, ppi=800, optics_mm=0.021, noise=0.009, noise_seed=32, turn_deg=-0.7),
            "gamma 2.2",
            16,
        ),
    ):
        pull, capture = scanned(folder, name, pulled, curve, bits)
        results.append(measure_sheet(replace(edition, capture=capture), pull, standard))
    return results


def test_results_agree_within_their_stated_uncertainty(pair):
    one, other = (by_region(result) for result in pair)
    apart = []
    for patch in PATCHES:
        for name in MEASURES:
            here, there = one[patch.name], other[patch.name]
            if name in here and name in there:
                stated = np.hypot(here[f"u_{name}"], there[f"u_{name}"])
                apart.append(abs(here[name] - there[name]) / stated)
    assert len(apart) > 40
    # 95 % of differences lie within 1.96 of their standard uncertainty, nearly all within 3.
    assert np.mean(np.array(apart) < 1.96) > 0.9
    assert max(apart) < 4


def test_each_scanner_tells_its_own_blur(pair):
    """Variances of optics and pixel add; pixels are drawn as means of 3 x 3 places, whose variance is 2/27 px²."""
    for result, ppi, optics in zip(pair, (600, 800), (17.0, 21.0), strict=True):
        expected = np.hypot(optics, 25400 / ppi * np.sqrt(2 / 27))
        assert result.sheet["blur_um"] == pytest.approx(expected, rel=0.015)
