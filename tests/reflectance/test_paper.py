"""Bare paper is found within 0.2 % everywhere in the plate, whatever lies about it."""

from dataclasses import replace

import numpy as np
import pytest

from proofkit.quality import Quality
from proofkit.reflectance import find_paper, paper_level
from proofkit.reflectance.colour import lab_from_linear_rgb
from proofkit.reflectance.kernels import block_moments, level_at
from proofkit.reflectance.surface import cloudiness, fit_surface
from tests.reflectance.scenes import PAPER, Scene, scanned, with_plane

CLEARANCE_PX = 12

SCENES = {
    "black bed": Scene(),
    "white bed": Scene(bed=(0.86, 0.86, 0.86)),
    "bed at the end of the range": Scene(bed=(1, 1, 1)),
    "bed a little whiter": Scene(bed=(0.82, 0.82, 0.82)),
    "bed as white as the paper": Scene(bed=(0.816, 0.796, 0.734)),
    "grey bed": Scene(bed=(0.4, 0.4, 0.4)),
    "bed a little darker": Scene(bed=(0.70, 0.70, 0.70)),
    "sheet larger than the scan": Scene(sheet=(0, 0, 1400, 1800)),
    "narrow at two sides": Scene(margins=(30, 35, 200, 150)),
    "heavy plate tone": Scene(film_density=0.3),
    "strong grain": Scene(grain=0.03),
    "light of a single lens": Scene(shape="lens"),
    "grey paper": Scene(paper=(0.4, 0.39, 0.35)),
}


def errors(made, paper):
    """Relative error of the level on a grid inside the plate."""
    x0, y0 = made.corners_px[0]
    x1, y1 = made.corners_px[2]
    x, y = np.meshgrid(np.linspace(x0, x1, 25), np.linspace(y0, y1, 25))
    return paper_level(paper, x, y) / made.paper[y.astype(int), x.astype(int)] - 1


@pytest.mark.parametrize("name", SCENES)
def test_level_inside_the_plate(name):
    made = scanned(SCENES[name])
    paper = find_paper(made.scan, made.corners_px, clearance_px=CLEARANCE_PX)
    assert np.abs(errors(made, paper)).max() < 0.002  # 0.0009 D: well under the lightest plate tone
    assert np.sqrt(np.mean(errors(made, paper) ** 2)) < 2 * paper.u_level
    assert paper.quality == Quality.NONE
    assert paper.noise == pytest.approx(SCENES[name].grain, rel=0.1)


@pytest.mark.parametrize("shape", ["cosine", "lamp"])
def test_light_that_the_margin_says_little_about(shape):
    """The middle bulges by more than a second-order surface through the margin can tell: within 0.4 %."""
    made = scanned(Scene(shape=shape))
    paper = find_paper(made.scan, made.corners_px, clearance_px=CLEARANCE_PX)
    assert np.abs(errors(made, paper)).max() < 0.004
    assert np.sqrt(np.mean(errors(made, paper) ** 2)) < 2 * paper.u_level


def test_uncertainty_covers_the_error():
    """Over a number of sheets the errors are about as large as the uncertainty says, which also counts odd lamps."""
    ratios = []
    for seed in range(8):
        made = scanned(Scene(seed=seed, size=(900, 1100), sheet=(40, 40, 860, 1060), soiled=False))
        paper = find_paper(made.scan, made.corners_px, clearance_px=CLEARANCE_PX)
        ratios.append(np.sqrt(np.mean(errors(made, paper) ** 2)) / paper.u_level)
    assert 0.1 < np.sqrt(np.mean(np.square(ratios))) < 2


def test_colour_and_size_of_the_margin():
    made = scanned(Scene(unevenness=0.0, soiled=False))
    paper = find_paper(made.scan, made.corners_px, clearance_px=CLEARANCE_PX)
    assert paper.lab == pytest.approx(lab_from_linear_rgb(PAPER), abs=0.05)
    assert paper.luminance == pytest.approx(np.dot(PAPER, (0.2126, 0.7152, 0.0722)), rel=5e-4)
    sheet, plate = 1280 * 1690, (1280 - 210) * (1690 - 260)
    assert 0.7 * (sheet - plate) < paper.margin_fraction * 1400 * 1800 < sheet - plate


def test_order_of_corners_does_not_matter():
    made = scanned(Scene())
    one = find_paper(made.scan, made.corners_px, clearance_px=CLEARANCE_PX)
    other = find_paper(made.scan, made.corners_px[::-1].copy(), clearance_px=CLEARANCE_PX)
    assert other.coefficients == pytest.approx(one.coefficients, abs=1e-9)


def test_specks_on_one_side_of_the_level_do_not_pull_it():
    """A tenth of all margin blocks hold a dark speck; the level is that of the paper between them."""
    made = scanned(Scene(soiled=False, unevenness=0.0))
    rng = np.random.default_rng(1)
    plane = made.scan.plane.copy()
    for _ in range(4000):
        row, column = rng.integers(0, 1797), rng.integers(0, 1397)
        plane[row : row + 3, column : column + 3] //= 2
    made = with_plane(made, plane)
    paper = find_paper(made.scan, made.corners_px, clearance_px=CLEARANCE_PX)
    assert np.abs(errors(made, paper)).max() < 0.001


def test_margin_at_one_side_only():
    made = scanned(Scene(sheet=(0, 0, 1400, 1800), margins=(2, 2, 200, 2)))
    paper = find_paper(made.scan, made.corners_px, clearance_px=CLEARANCE_PX)
    assert Quality.LITTLE_MARGIN in paper.quality
    assert np.sqrt(np.mean(errors(made, paper) ** 2)) < 2 * paper.u_level


@pytest.mark.parametrize(("margin", "bed"), [(2, 0.02), (2, 0.4), (25, 0.02), (25, 0.4), (25, 0.88)])
def test_no_margin_to_speak_of(margin, bed):
    """What lies beyond is bed, and must not pass for paper without a word."""
    made = scanned(Scene(margins=(margin,) * 4, bed=(bed,) * 3))
    paper = find_paper(made.scan, made.corners_px, clearance_px=CLEARANCE_PX)
    assert Quality.LITTLE_MARGIN in paper.quality
    assert np.abs(errors(made, paper)).max() < 2 * paper.u_level


def test_scan_cropped_at_the_plate_mark():
    made = scanned(Scene(sheet=(0, 0, 1400, 1800), margins=(0, 0, 0, 0)))
    paper = find_paper(made.scan, made.corners_px, clearance_px=CLEARANCE_PX)
    assert paper.quality == Quality.LITTLE_MARGIN
    assert paper.margin_fraction == 0
    assert np.isnan(paper.noise)


@pytest.mark.parametrize("name", ["black bed", "white bed", "sheet larger than the scan", "heavy plate tone"])
def test_no_plate_mark_known(name):
    """Film as light as 0.05 D is close to paper; the lighter of the two even tones is the paper."""
    made = scanned(SCENES[name])
    paper = find_paper(made.scan, None, clearance_px=0)
    assert np.abs(errors(made, paper)).max() < 0.003
    assert paper.margin_fraction > 0.1


def test_even_black_in_the_plate_says_nothing_about_paper():
    """A third of the plate is one code of black, without any grain."""
    made = scanned(Scene())
    plane = made.scan.plane.copy()
    plane[300:800, 300:1100] = 300
    made = with_plane(made, plane)
    paper = find_paper(made.scan, made.corners_px, clearance_px=CLEARANCE_PX)
    assert np.abs(errors(made, paper)).max() < 0.002
    assert paper.quality == Quality.NONE


def test_level_is_one_function_in_two_forms():
    made = scanned(Scene())
    paper = find_paper(made.scan, made.corners_px, clearance_px=CLEARANCE_PX)
    x, y = np.array([3.0, 700.0, 1399.0]), np.array([8.0, 900.0, 1799.0])
    single = [
        level_at(paper.coefficients, paper.x0_px, paper.y0_px, paper.scale_px, *at)
        for at in zip(x, y, strict=True)
    ]
    assert paper_level(paper, x, y) == pytest.approx(single, rel=1e-12)


def test_block_moments_against_numpy():
    plane = np.random.default_rng(0).integers(0, 65536, (40, 50)).astype(np.uint16)
    wanted = np.ones((5, 6), bool)
    wanted[2, 3] = False
    mean, deviation = block_moments(plane, wanted, 8)
    blocks = plane[:40, :48].reshape(5, 8, 6, 8).swapaxes(1, 2).reshape(5, 6, 64).astype(float)
    assert np.isnan(mean[2, 3])
    assert mean[wanted] == pytest.approx(blocks.mean(axis=2)[wanted])
    assert deviation[wanted] == pytest.approx(blocks.std(axis=2, ddof=1)[wanted])


def test_paper_level_follows_brightness_of_the_scan():
    """Half the light gives half the level and the same shape, as densities are against paper."""
    made = scanned(Scene())
    paper = find_paper(made.scan, made.corners_px, clearance_px=CLEARANCE_PX)
    dim = replace(made.scan, plane=made.scan.plane // 2, overview=made.scan.overview / 2)
    half = find_paper(dim, made.corners_px, clearance_px=CLEARANCE_PX)
    assert half.luminance == pytest.approx(paper.luminance / 2, rel=1e-4)
    assert half.lab[0] < paper.lab[0]


def test_clouds_of_the_paper_are_told_between_squares():
    """Independent patches of 2 mm with a spread of 0.4 %, beside noise of 0.3 % in blocks of 0.5 mm."""
    rng, told = np.random.default_rng(7), []
    side = 2.0
    for _ in range(10):
        uv = (
            np.stack(np.meshgrid(np.arange(0, 40, 0.5), np.arange(0, 30, 0.5)), axis=-1).reshape(-1, 2) + 0.25
        )
        patch = (uv // side).astype(int)
        level = 0.004 * rng.standard_normal((20, 15))[patch[:, 0], patch[:, 1]]
        level += 0.003 * rng.standard_normal(len(uv))
        surface = fit_surface(uv / 20 - 1, level, spacing=0.025)
        told.append(cloudiness(surface, uv / 20 - 1, level, side / 20))
    assert np.mean(told) == pytest.approx(0.004, rel=0.1)


def test_even_paper_has_no_clouds():
    rng = np.random.default_rng(8)
    uv = np.stack(np.meshgrid(np.linspace(-1, 1, 60), np.linspace(-1, 1, 60)), axis=-1).reshape(-1, 2)
    level = 0.003 * rng.standard_normal(len(uv))
    surface = fit_surface(uv, level, spacing=2 / 59)
    assert cloudiness(surface, uv, level, 0.2) < 0.0004
    assert cloudiness(surface, uv, level, 2.0) == 0  # too few squares to tell
