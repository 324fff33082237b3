"""The simulator keeps what it plants: line load, film, places; and each fault leaves its own signature.

Signs of the faults follow common practice of the printing shop: which of line ink and plate tone falls, and where.
"""

import warnings
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import tifffile
from shapely.geometry import box

from proofkit.folder.read import read_edition
from tests.simulate import (
    Crease,
    EditionText,
    Fault,
    Plate,
    PlateRegion,
    Pull,
    ScanKind,
    Stroke,
    make_edition,
    make_plate,
    region_truth,
    render,
    to_codes,
    to_px,
)
from tests.simulate.plate import Kind
from tests.simulate.sample import FOLDER_NAME, PPI, SEED, sample_pulls

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # colour-science warns about drawing libraries it does not find
    import colour

SAMPLES = Path(__file__).parent.parent / "sample_scans"
QUIET = Pull("1", unevenness=0.0, grain=0.0, lamp=0.0, warp_mm=0.0, bevel=0.0, margin_mm=4.0)
"""A pull with no variation of its own: film 0.045 D everywhere, no warp, no turn."""


def line(
    x0: float, y0: float, x1: float, y1: float, groove_um: float, depth: float, kind: Kind = "burin"
) -> Stroke:
    return Stroke(
        np.array([(x0, y0), (x1, y1)]), np.full(2, groove_um), depth, kind, 0.3 if kind == "drypoint" else 0
    )


def plate_of(*strokes: Stroke) -> Plate:
    """Return a plate of 24 x 20 mm, with a region round x = 4 to 20, y = 6 to 14."""
    return Plate("lines", 24.0, 20.0, strokes, (PlateRegion("middle", "lines", box(4, 6, 20, 14)),))


def upright(x_mm: float, groove_um: float = 60.0, depth: float = 0.9, kind: Kind = "burin") -> Stroke:
    return line(x_mm, 2.0, x_mm, 18.0, groove_um, depth, kind)


def crossings(plane: np.ndarray, x_px: float, rows: slice, reach_px: int) -> np.ndarray:
    """Return mean (1 - R/Rg) across an upright line, ground from both ends of the crossings."""
    left = round(x_px) - reach_px
    profile = plane[rows, left : left + 2 * reach_px + 1].astype(float).mean(axis=0)
    n = reach_px // 3
    ground = np.interp(
        np.arange(len(profile)), [n / 2, len(profile) - n / 2], [profile[:n].mean(), profile[-n:].mean()]
    )
    return 1 - profile / ground


@pytest.mark.parametrize("ppi", [600.0, 1200.0])
@pytest.mark.parametrize("groove_um", [20.0, 60.0, 220.0])
def test_rendered_line_load_is_the_planted_one(ppi: float, groove_um: float) -> None:
    """Blur and pixels spread a line but keep its integral, so the scan must hold what the truth says."""
    plate = plate_of(upright(12.1, groove_um))
    made = render(plate, QUIET, ppi, 1)
    x, y0 = to_px(made.mapping, np.array([[12.1, 6.0]]))[0]
    y1 = to_px(made.mapping, np.array([[12.1, 14.0]]))[0, 1]
    found = crossings(made.plane, x, slice(round(y0), round(y1)), round(ppi / 25.4 * 0.7)).sum() * 25400 / ppi
    planted = region_truth(made.inked, plate)["line_load_um"][0]
    assert found == pytest.approx(planted, rel=0.003, abs=0.4)


def test_slanting_line_on_a_turned_and_stretched_sheet_keeps_its_load() -> None:
    """Ink per area of plate is what the map keeps: the sum of 1 - R/Rg over the line, in mm² of plate."""
    plate = plate_of(line(6.0, 7.0, 18.0, 13.0, 70.0, 0.8))
    stretch = (0.985, 1.004)
    made = render(plate, replace(QUIET, stretch=stretch, rotation_deg=7.0), 600, 2)
    inside = to_px(made.mapping, np.array([(5.0, 6.0), (19.0, 6.0), (19.0, 14.0), (5.0, 14.0)]))
    rows, columns = np.indices(made.plane.shape)
    away = np.ones(made.plane.shape, dtype=bool)
    for a, b in zip(inside, np.roll(inside, -1, axis=0), strict=True):
        away &= (b[0] - a[0]) * (rows - a[1]) - (b[1] - a[1]) * (columns - a[0]) > 0
    values = made.plane[away].astype(float)
    ground = 65535 * QUIET.paper * 10**-QUIET.film_density
    area_mm2 = (1 - values / ground).sum() / (600 / 25.4) ** 2 / (stretch[0] * stretch[1])
    planted = (
        region_truth(made.inked, plate)["line_load_um"][0] / 1000 * np.hypot(12.0, 6.0)
    )  # its two round ends add half a percent
    assert area_mm2 == pytest.approx(planted, rel=0.01)


def test_burr_prints_on_one_side_and_its_skirt_counts() -> None:
    plate = plate_of(upright(12.0, 22.0, 0.3, "drypoint"))
    made = render(plate, QUIET, 1200.0, 3)
    x, y0 = to_px(made.mapping, np.array([[12.0, 6.0]]))[0]
    ink = crossings(made.plane, x, slice(round(y0), round(y0) + 300), 50)
    planted = region_truth(made.inked, plate)["line_load_um"][0]
    assert ink.sum() * 25400 / 1200 == pytest.approx(planted, rel=0.03)
    assert max(ink[:46].sum(), ink[55:].sum()) > 5 * max(0.02, min(ink[:46].sum(), ink[55:].sum()))


def test_film_on_open_ground_is_the_planted_density() -> None:
    made = render(plate_of(upright(2.0)), QUIET, 600.0, 4)
    (x0, y0), (x1, y1) = to_px(made.mapping, np.array([(5.0, 3.0), (22.0, 17.0)])).round().astype(int)
    film = -np.log10(made.plane[y0:y1, x0:x1].mean() / made.plane[:60].mean())
    assert film == pytest.approx(0.045, abs=0.0015)


def test_plate_mark_lies_where_the_corners_say() -> None:
    """The film's step at the middle of the left and right edge, at half height, to a quarter of a pixel."""
    pull = replace(QUIET, film_density=0.2, emboss=0.0)
    made = render(plate_of(upright(12.0)), pull, 600.0, 12)
    for x_mm in (0.0, 24.0):
        x, y = to_px(made.mapping, np.array([[x_mm, 10.0]]))[0]
        left = round(x) - 20
        profile = made.plane[round(y) - 60 : round(y) + 61, left : left + 41].astype(float).mean(axis=0)
        paper, film = max(profile[0], profile[-1]), min(profile[0], profile[-1])
        share = ((profile - film) / (paper - film)).sum() - 0.5
        assert left + (share if x_mm == 0.0 else 40 - share) == pytest.approx(x, abs=0.25)


def test_bare_margin_is_the_paper() -> None:
    made = render(plate_of(upright(2.0)), QUIET, 600.0, 4)
    assert made.plane[:60].mean() / 65535 == pytest.approx(QUIET.paper, rel=0.003)


@pytest.mark.parametrize("mirrored", [False, True])
def test_line_lies_where_the_mapping_says(*, mirrored: bool) -> None:
    """Stretch, shear, turn and uneven stretch together, to a twentieth of a pixel."""
    pull = replace(QUIET, stretch=(0.99, 1.006), shear=0.002, warp_mm=0.15,
                rotation_deg=0.8, mirrored=mirrored)  # fmt: skip
    made = render(plate_of(upright(8.0), upright(16.0)), pull, 600.0, 5)
    for x_mm in (8.0, 16.0):
        for y_mm in (6.0, 10.0, 14.0):
            x, y = to_px(made.mapping, np.array([[x_mm, y_mm]]))[0]
            rows = slice(round(y) - 30, round(y) + 31)
            ink = crossings(made.plane, x, rows, 8)
            at = round(x) - 8 + (ink * np.arange(17)).sum() / ink.sum()
            # the rows' mean place is that of y = round(y), the line leans with the turn
            lean = (to_px(made.mapping, np.array([[x_mm, y_mm + 1]])) - [[x, y]])[0]
            assert at - (round(y) - y) * lean[0] / lean[1] == pytest.approx(x, abs=0.05)


def test_same_seed_same_scan_and_other_seed_another() -> None:
    plate = plate_of(upright(8.0))
    first = render(plate, QUIET, 600.0, 6).plane
    np.testing.assert_array_equal(first, render(plate, QUIET, 600.0, 6).plane)
    assert not np.array_equal(first, render(plate, QUIET, 600.0, 7).plane)


def test_doubled_line_lies_beside_itself_at_the_planted_shift() -> None:
    fault = Fault("doubled", 0.8, angle_deg=0.0, size_um=250.0)
    made = render(plate_of(upright(12.0, 40.0)), replace(QUIET, faults=(fault,)), 1200.0, 8)
    x, y = to_px(made.mapping, np.array([[12.0, 8.0]]))[0]
    ink = crossings(made.plane, x, slice(round(y), round(y) + 200), 40)
    at = (np.arange(81) + round(x) - 40 - x) * 25400 / 1200
    second = (at > 125) & (at < 375)
    assert (ink * at)[second].sum() / ink[second].sum() == pytest.approx(250.0, abs=8.0)


def test_lines_jump_across_a_crease_and_nothing_prints_in_it() -> None:
    crease = Crease((12.0, -8.0), (12.0, 200.0), 0.3)
    pull = replace(QUIET, faults=(Fault("crease", 1.0, crease=crease),))
    made = render(plate_of(line(3.0, 10.0, 21.0, 10.0, 70.0, 0.9)), pull, 600.0, 9)
    left, right = to_px(made.mapping, np.array([(11.99, 10.0), (12.01, 10.0)]))
    gap_um = abs(right[0] - left[0]) / 600 * 25400 - 20
    assert gap_um == pytest.approx(300.0 * (1 - 18 / 208), abs=1.0)
    middle = round((left[0] + right[0]) / 2)
    y = round(left[1])
    assert made.plane[y, middle] > 0.9 * made.plane[:60].mean()
    assert made.plane[y, middle - 12] < 0.5 * made.plane[:60].mean()


def load_and_film(fault: Fault) -> tuple[pd.Series, pd.Series]:
    """Return line load and film with `fault` against without, for a shallow and a deep region."""
    strokes = [upright(4 + 0.4 * k, 40.0, 0.2, "etched") for k in range(15)]
    strokes += [upright(14 + 0.4 * k, 40.0, 0.95, "etched") for k in range(15)]
    regions = (
        PlateRegion("shallow", "lines", box(3, 4, 11, 16)),
        PlateRegion("deep", "lines", box(13, 4, 21, 16)),
    )
    plate = Plate("two depths", 24.0, 20.0, tuple(strokes), regions)
    good = region_truth(render(plate, QUIET, 600.0, 10).inked, plate).set_index("region")
    bad_pull = replace(QUIET, faults=(fault,))
    bad = region_truth(render(plate, bad_pull, 600.0, 10).inked, plate).set_index("region")
    return bad["line_load_um"] / good["line_load_um"], bad["plate_tone_density"] - good["plate_tone_density"]


def test_under_inked_breaks_deep_lines_and_leaves_the_film() -> None:
    load, film = load_and_film(Fault("under-inked", 0.8))
    assert load["deep"] < 0.9
    assert film.abs().max() < 0.001


def test_overwiped_takes_film_and_shallow_lines_more_than_deep() -> None:
    load, film = load_and_film(Fault("overwiped", 0.8))
    assert load["shallow"] < load["deep"] - 0.1
    assert film.max() < -0.02


def test_underwiped_raises_film_and_widens_lines() -> None:
    load, film = load_and_film(Fault("underwiped", 0.8))
    assert load.min() > 1.0
    assert film.min() > 0.05


def test_low_pressure_takes_lines_and_film_together() -> None:
    load, film = load_and_film(Fault("low pressure", 0.8))
    assert load.max() < 0.8
    assert film.max() < -0.01
    assert abs(load["shallow"] - load["deep"]) < 0.02


def test_dry_paper_takes_the_planted_share_of_ink() -> None:
    plate = plate_of(*(upright(4 + 0.8 * k, 150.0) for k in range(20)))
    made = render(plate, replace(QUIET, faults=(Fault("dry paper", 0.6),)), 600.0, 11)
    (x0, y0), (x1, y1) = to_px(made.mapping, np.array([(3.6, 6.0), (19.6, 14.0)])).round().astype(int)
    light = made.plane[y0:y1, x0:x1].mean() / made.plane[:60].mean()
    truth = region_truth(made.inked, plate)
    ground = 10 ** -truth["plate_tone_density"][0]
    per_mm = truth["line_load_um"][0] / 1000 / 0.8
    assert light == pytest.approx(ground * (1 - per_mm), abs=0.01)


@pytest.mark.parametrize("bits", [8, 16])
def test_codes_decode_to_the_planted_luminance(bits: int) -> None:
    """Decoded with colour-science's IEC 61966-2-1 curve and luminance weights."""
    plane = np.linspace(2000, 60000, 4000).astype(np.uint16).reshape(40, 100)
    codes = to_codes(plane, ScanKind(bits=bits, rgb=True), (1.0, 0.97, 0.9))
    linear = colour.models.eotf_sRGB(codes / (2**bits - 1))
    luminance = linear @ np.array([0.2126, 0.7152, 0.0722])
    np.testing.assert_allclose(luminance, plane / 65535, atol=2.5 / (2**bits - 1))


def test_edition_folder_is_read_and_its_truth_matches_its_scans(tmp_path) -> None:
    plate = plate_of(upright(8.0), upright(9.0))
    pulls = [Pull("1", margin_mm=3.0), Pull("2", (Fault("overwiped", 0.7),), margin_mm=3.0)]
    make_edition(tmp_path, plate, pulls, 600.0, 1, EditionText("Two pulls", "1"), ScanKind(bits=16))
    edition = read_edition(tmp_path)
    assert [pull.pull for pull in edition.pulls] == ["1", "2"]
    assert (edition.plate_width_mm, edition.standard) == (24.0, "1")
    with tifffile.TiffFile(tmp_path / "scans" / "pull_2.tif") as file:
        assert file.pages[0].tags["XResolution"].value == (600, 1)
        shape = file.pages[0].shape
    grid = pd.read_csv(tmp_path / "truth" / "grid.csv", dtype={"pull": str})
    assert grid[["x_px", "y_px"]].min().min() > 0
    assert grid["x_px"].max() < shape[1]
    causes = pd.read_csv(tmp_path / "truth" / "pulls.csv", keep_default_na=False)["cause"]
    assert causes.tolist() == ["", "overwiped"]


@pytest.mark.parametrize("name", ["trial", "mill"])
def test_plates_lie_inside_their_copper_and_have_work_in_each_region(name: str) -> None:
    plate = make_plate(name, 1)
    points = np.concatenate([stroke.points_mm for stroke in plate.strokes])
    assert points.min() > 0
    assert points[:, 0].max() < plate.width_mm
    assert points[:, 1].max() < plate.height_mm
    copper = box(0, 0, plate.width_mm, plate.height_mm)
    assert all(region.outline_mm.is_valid and copper.contains(region.outline_mm) for region in plate.regions)


@pytest.mark.slow
def test_sample_edition_is_what_the_code_makes() -> None:
    """One sheet of the sample edition, made again: at most a rounding step apart, on very few pixels."""
    pulls = sample_pulls()
    made = render(make_plate("mill", 1), pulls[2], PPI, SEED * 1000 + 2)
    stored = tifffile.imread(SAMPLES / FOLDER_NAME / "scans" / "pull_3.tif").astype(int)
    apart = np.abs(stored - to_codes(made.plane, ScanKind()).astype(int))
    assert apart.max() <= 1
    assert (apart > 0).mean() < 0.001
