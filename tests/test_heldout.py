"""The held-out simulator does what its truth tables say, by algebra on its own pictures."""

import tomllib

import cv2
import numpy as np
import pandas as pd
import pytest
import tifffile
from scipy import ndimage
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial.distance import pdist
from shapely import contains_xy, wkt

from proofkit.columns import CAUSES
from tests.heldout.again import FINER, Printed, scan_again
from tests.heldout.edition import Order, write_edition
from tests.heldout.fields import random_waves
from tests.heldout.geometry import cells, decompose, grid, random_map, to_mm, to_px
from tests.heldout.ink import COURSES, FAULTS, HAND_FILM_DENSITY, Recipe, film, sound_pull
from tests.heldout.plate import random_plate
from tests.heldout.scanner import Capture, encode
from tests.heldout.sheet import Stock, draw_sheet
from tests.heldout.truth import line_loads_um, measures

PX_PER_MM = 600 / 25.4


@pytest.fixture(scope="module")
def drawn():
    """One sheet of a small plate on paper without grain, seen without noise."""
    rng = np.random.default_rng(5)
    plate = random_plate(5, (54.0, 50.0))
    recipe = Recipe(0.04, 0.01, 1.3, random_waves(rng, 40.0), 0.002)
    pull = sound_pull(plate, recipe, rng)
    m, size = random_map(rng, (plate.width_mm, plate.height_mm), PX_PER_MM, (0.99, 0.995))
    light = draw_sheet(plate, recipe, pull, m, size, Stock(0.8, 1e-6, None), (PX_PER_MM, 0.4), rng)
    return plate, recipe, pull, m, light / 0.8


def _field(plate, note):
    return next(f for f in plate.fields if f.note == note)


def _pixels(plate, m, light, note):
    """Return plate mm and reflectance of the pixels of a field."""
    corners = to_px(m, np.array(_field(plate, note).outline.exterior.coords))
    i0, i1 = int(corners[:, 1].min()), int(corners[:, 1].max())
    j0, j1 = int(corners[:, 0].min()), int(corners[:, 0].max())
    j, i = np.meshgrid(np.arange(j0, j1), np.arange(i0, i1))
    points = to_mm(m, np.stack((j.ravel(), i.ravel()), axis=1).astype(float))
    inside = contains_xy(_field(plate, note).outline, points[:, 0], points[:, 1])
    return points[inside], light[i.ravel()[inside], j.ravel()[inside]].astype(float)


@pytest.mark.parametrize("note", ["broad", "fine"])
def test_light_lost_is_length_times_load(drawn, note):
    # Algebra: the area integral of 1 - R/Rg over lines that do not meet is the sum of length times load, whatever
    # the blur. 1.5 %: edge of the region, and pixels cut by it.
    plate, recipe, pull, m, light = drawn
    points, seen = _pixels(plate, m, light, note)
    lost = (1 - seen / 10 ** -film(plate, recipe, pull, points)).mean()
    field = _field(plate, note)
    inside = contains_xy(field.outline, *plate.strokes.points_mm.T)
    load = line_loads_um(
        pull.width_um[inside], pull.core[inside], film(plate, recipe, pull, plate.strokes.points_mm[inside])
    )
    length = measures(plate, recipe, pull, field)["line_length_mm_per_mm2"]
    assert lost == pytest.approx(length * load.mean() / 1000, rel=0.015)


def test_open_ground_has_the_film_of_the_truth(drawn):
    plate, recipe, pull, m, light = drawn
    _, seen = _pixels(plate, m, light, "open")
    truth = measures(plate, recipe, pull, _field(plate, "open"))["plate_tone_density"]
    assert -np.log10(seen.mean()) == pytest.approx(truth, abs=5e-5)


def test_strokes_lie_where_the_map_says(drawn):
    plate, _, _, m, light = drawn
    strokes = plate.strokes
    inside = contains_xy(_field(plate, "broad").outline.buffer(-0.5), *strokes.points_mm.T)
    at = np.flatnonzero(inside)[::7]
    step = strokes.points_mm[at + 1] - strokes.points_mm[at - 1]
    normal = np.stack((-step[:, 1], step[:, 0]), axis=1) / np.hypot(*step.T)[:, None]
    across = np.linspace(-0.13, 0.13, 53)
    sampled = strokes.points_mm[at][:, None] + across[:, None] * normal[:, None]
    px = to_px(m, sampled.reshape(-1, 2)).astype(np.float32).reshape(len(at), 53, 2)
    seen = 1 - cv2.remap(light, px[..., 0], px[..., 1], cv2.INTER_CUBIC)
    offset_mm = (seen * across).sum(axis=1) / seen.sum(axis=1)
    assert abs(np.median(offset_mm)) < 0.001


def test_map_goes_there_and_back():
    rng = np.random.default_rng(3)
    m, _ = random_map(rng, (80.0, 60.0), PX_PER_MM, (0.99, 1.0))
    points = grid(80.0, 60.0)
    np.testing.assert_allclose(to_mm(m, to_px(m, points)), points, atol=1e-4)


def test_decompose_reads_a_known_map():
    # By construction: 1 % along x, none along y, turned 1.5 degrees counter-clockwise as seen (y down).
    turn = np.deg2rad(1.5)
    a = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) @ np.diag([1.01, 1.0])
    points = grid(60.0, 40.0)
    d = decompose(points, points @ (10 * a).T + 7, 10.0)
    assert (d.stretch_x, d.stretch_y, d.rotation_deg) == pytest.approx((1.01, 1.0, 1.5), abs=1e-9)


def test_uneven_stretch_is_averaged_over_the_whole_plate():
    # Least squares of x**3 over 0 .. L make a slope of 0.9 L**2 (algebra).
    points = cells(58.0, 52.0)
    assert points.mean(axis=0) == pytest.approx((29.0, 26.0))
    bent = points + np.stack((1e-6 * points[:, 0] ** 3, 0 * points[:, 0]), axis=1)
    assert decompose(points, bent, 1.0).stretch_x == pytest.approx(1 + 0.9e-6 * 58.0**2, abs=1e-6)


def test_codes_follow_the_srgb_curve():
    colour = pytest.importorskip("colour")
    light = np.linspace(0, 1, 101)
    # IEC 61966-2-1 as implemented by colour-science.
    np.testing.assert_allclose(
        encode(light.astype(np.float32), "sRGB"), colour.cctf_encoding(light), atol=2e-6
    )


def test_pulls_vary_as_a_hand_does(drawn):
    plate, recipe, *_ = drawn
    rng = np.random.default_rng(0)
    middle = np.array([[plate.width_mm / 2, plate.height_mm / 2]])
    films = [film(plate, recipe, sound_pull(plate, recipe, rng), middle)[0] for _ in range(400)]
    # Standard error of a standard deviation of 400 normal values is 3.5 % (1 / sqrt(2 (n - 1))).
    assert np.std(films) == pytest.approx(HAND_FILM_DENSITY, rel=0.12)


def test_faults_are_cause_words():
    assert set(FAULTS) | set(COURSES) | {"plate wear"} == set(CAUSES)


def test_without_the_copper_regions_are_in_mm_of_the_standard(tmp_path):
    """Corners of regions lie as far apart on the standard's scan as in regions.csv, by the ppi alone."""
    order = Order(14, 4, 300, faults=False, size_mm=(50.0, 50.0))
    write_edition(tmp_path, order)
    settings = tomllib.loads((tmp_path / "edition.toml").read_text(encoding="utf-8"))
    assert "plate_width_mm" not in settings
    grid = pd.read_csv(tmp_path / "truth/grid.csv", dtype={"pull": str})
    grid = grid[grid["pull"] == settings["standard"]]
    on_scan = LinearNDInterpolator(grid[["x_mm", "y_mm"]], grid[["x_px", "y_px"]])
    fields = {field.name: field.outline for field in random_plate(order.seed, order.size_mm).fields}
    drawn, given = [], []
    for row in pd.read_csv(tmp_path / "regions.csv").itertuples():
        drawn.append(pdist(on_scan(np.array(fields[row.name].exterior.coords))) / (300 / 25.4))
        given.append(pdist(np.array(wkt.loads(row.wkt).exterior.coords)))
    # The paper has shrunk by 1 %; uneven stretch leaves a few tenths of that.
    assert np.concatenate(given).sum() == pytest.approx(np.concatenate(drawn).sum(), rel=0.002)


def test_same_order_same_files(tmp_path):
    for name in ("one", "two"):
        write_edition(tmp_path / name, Order(9, 5, 300, faults=True, size_mm=(50.0, 50.0)))
    files = sorted(p.relative_to(tmp_path / "one") for p in (tmp_path / "one").rglob("*") if p.is_file())
    assert len(files) == 5 + 3 + 4
    for file in files:
        assert (tmp_path / "one" / file).read_bytes() == (tmp_path / "two" / file).read_bytes()


def test_a_print_keeps_its_ink_however_it_lies(tmp_path):
    """A grey square of 1 mm on white paper: its area times its depth, by counting, on three scans of it."""
    fine = FINER * 600 / 25.4
    side, low = round(fine), round(2.5 * fine)
    light = np.full((6 * side, 6 * side), 0.8, np.float32)
    light[low : low + side, low : low + side] *= 0.25
    printed = Printed(light, 0.8, None)
    rng, middles = np.random.default_rng(4), []
    for k in range(3):
        path = tmp_path / f"{k}.tif"
        scan_again(path, printed, Capture(600, "linear", 16, 1, 0.001, 20.0, None, 0.0), rng)
        ink = 1 - tifffile.imread(path) / 65535 / 0.8
        assert ink.sum() * FINER**2 == pytest.approx(0.75 * side**2, rel=0.005)
        assert ink.max() == pytest.approx(0.75, abs=0.01)
        middles.append(ndimage.center_of_mass(np.clip(ink - 0.05, 0, None)))
    assert pdist(middles).min() > 0.05
    assert pdist(middles).max() < 2 * np.hypot(3, 3) + 2
