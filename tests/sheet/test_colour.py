"""Colour of ink and film on drawn proofs; what is expected goes through the reference library colour-science."""

import numpy as np
import pytest

from proofkit.folder.edition import Pull
from proofkit.sheet import make_standard
from tests.laying.plates import corners, lie
from tests.lines.drawn import plane_of
from tests.reflectance.colour_library import colour
from tests.scan.scan_files import write_tiff
from tests.sheet.proofs import Bench, Proof, edition_of, light_of

SRGB = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
PAPER = np.array([1.0, 0.98, 0.88])
BLACK = (0.920, 0.930, 0.945)
"""Depth of the lines in red, green and blue: a brownish black."""
FILM = (0.040, 0.046, 0.056)


def write_colour_proof(folder, name, depths, films, *, light=1.0, turn_deg=0.0):
    how = lie(turn_deg=turn_deg)
    planes = [
        plane_of(light * paper * light_of(Proof(film=film, depth=depth, how=how)), seed=k)
        for k, (paper, depth, film) in enumerate(zip(PAPER, depths, films, strict=True))
    ]
    (folder / "scans").mkdir(exist_ok=True)
    write_tiff(folder / "scans" / f"{name}.tif", np.stack(planes, axis=-1))
    return Pull(name, f"{name}.tif", corners_px=corners(how))


def expected(transmitted):
    """Lab of what is left of the paper's light in each channel, the paper as white."""
    white = SRGB @ PAPER
    xyz = SRGB @ (PAPER * np.asarray(transmitted))
    return colour.XYZ_to_Lab(xyz / white * [0.95047, 1.0, 1.08883], colour.XYZ_to_xy([0.95047, 1.0, 1.08883]))


def ink_of(depths, films):
    return (1 - np.asarray(depths)) * 10 ** -np.asarray(films)


@pytest.fixture(scope="module")
def colour_bench(tmp_path_factory):
    folder = tmp_path_factory.mktemp("colours")
    pull = write_colour_proof(folder, "standard", BLACK, FILM)
    edition = edition_of(folder, pull)
    return Bench(folder, edition, make_standard(edition, pull))


def measured(bench, name, depths, films, **how):
    from proofkit.sheet import measure_sheet  # noqa: PLC0415  beside its only use

    pull = write_colour_proof(bench.folder, name, depths, films, **how)
    return measure_sheet(bench.edition, pull, bench.standard).sheet


def lab(sheet, what):
    return [sheet[f"{what}_lightness"], sheet[f"{what}_a"], sheet[f"{what}_b"]]


def test_ink_and_film_have_the_colour_they_were_drawn_with(colour_bench):
    sheet = measured(colour_bench, "twin", BLACK, FILM)
    assert lab(sheet, "film") == pytest.approx(expected(10 ** -np.asarray(FILM)), abs=0.3)
    # Lightness follows the darkest tenth of the lines' cores, a* and b* the mixtures over all lines.
    assert lab(sheet, "ink")[1:] == pytest.approx(expected(ink_of(BLACK, FILM))[1:], abs=1.0)
    assert lab(sheet, "ink")[0] == pytest.approx(expected(ink_of(BLACK, FILM))[0], abs=4.0)
    for what in ("paper", "ink", "film"):
        assert sheet[f"{what}_colour_difference"] < 0.5


def test_another_ink_is_seen_and_a_darker_exposure_is_not(colour_bench):
    browner = (0.875, 0.930, 0.960)
    sheet = measured(colour_bench, "browner", browner, FILM)
    true = colour.delta_E(expected(ink_of(BLACK, FILM)), expected(ink_of(browner, FILM)), method="CIE 2000")
    assert true > 5
    assert sheet["ink_colour_difference"] == pytest.approx(true, rel=0.2)
    assert sheet["film_colour_difference"] < 0.3
    darker = measured(colour_bench, "darker", BLACK, FILM, light=0.9, turn_deg=0.4)
    assert darker["ink_colour_difference"] < 0.7
    assert darker["film_colour_difference"] < 0.3
    assert darker["paper_colour_difference"] > 2


def test_grey_scans_have_no_tint(bench):
    sheet = bench.measure("grey", Proof(seed=3)).sheet
    assert np.isnan([*lab(sheet, "ink"), *lab(sheet, "film"), sheet["ink_colour_difference"]]).all()
