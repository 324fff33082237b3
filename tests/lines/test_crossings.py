"""Profiles whose integral, widths and edges are known in closed form.

Widths of blurred bars, the 10-90 % distance and the integral that no blur changes are identities of the error
function: at half of the bar's own peak a bar of 2, 3, 4, 6 sigmas reads 2.7714, 3.3326, 4.1140, 6.0068 sigmas wide.
"""

import numpy as np
import pytest
from scipy.integrate import quad

from proofkit.lines.crossings import Spans, gap_leak, measure_crossings
from proofkit.lines.profiles import Profiles, read_profiles
from tests.lines.drawn import DEPTH, bar, clear_light, plane_of, scan_light, stroke
from tests.lines.papers import even_paper

SIGMA = 0.022
STEP = 25.4 / 600 / 4
S = np.arange(-60, 61) * STEP


def spans(width, left, right=None, gap=np.inf):
    one = np.ones(1)
    right = left if right is None else right
    return Spans(width * one, left * one, right * one, gap * one, gap * one)


def alone(width, sigma):
    return spans(width, width / 2 + 3.5 * sigma + 0.04)


def read(reflectance, where, sigma, s=S):
    profiles = Profiles(np.asarray(reflectance, dtype=np.float32)[None, :], s)
    return measure_crossings(profiles, where, sigma, np.array([0.05]))


@pytest.mark.parametrize("width", [0.03, 0.06, 0.1, 0.2, 0.3])
@pytest.mark.parametrize("phase", [0.0, 0.25, 0.5, 0.8])
def test_load_is_width_times_depth(width, phase):
    ground = 0.9
    values = read(ground * (1 - DEPTH * bar(S - phase * STEP, width, SIGMA)), alone(width, SIGMA), SIGMA)
    assert values.load_um[0] == pytest.approx(width * 1000 * DEPTH, rel=0.01)
    assert values.ground[0] == pytest.approx(ground, rel=0.002)


@pytest.mark.parametrize(("sigmas", "own_half_width"), [(2, 2.7714), (3, 3.3326), (4, 4.1140), (6, 6.0068)])
def test_half_depth_width_of_a_blurred_bar(sigmas, own_half_width):
    sigma = 0.03
    s = np.linspace(-0.4, 0.4, 801)
    values = read(1 - DEPTH * bar(s, sigmas * sigma, sigma), alone(sigmas * sigma, sigma), sigma, s)
    assert values.width_um[0] / (sigma * 1000) == pytest.approx(own_half_width, rel=0.005)


@pytest.mark.parametrize("sigma", [0.015, 0.022, 0.03])
def test_edge_softness_is_the_distance_from_10_to_90_percent(sigma):
    """2.563103 sigmas for a straight edge blurred by a Gaussian; a bar of 8 sigmas has straight edges to 0.1 %."""
    s = np.linspace(-0.45, 0.45, 1801)
    values = read(1 - DEPTH * bar(s, 8 * sigma, sigma), alone(8 * sigma, sigma), sigma, s)
    assert values.softness_um[0] == pytest.approx(2563.103 * sigma, rel=0.01)


@pytest.mark.parametrize(("paler", "expected"), [(0.0, 0.0), (0.2, 0.1874), (0.5, 0.4801)])
def test_hollow_is_how_much_paler_the_centre_is(paler, expected):
    """A bar of 0.3 mm whose middle 0.1 mm holds less ink, blurred: 1 - ink in the centre over the most ink beside it.

    The figures follow from the error function at blur 0.022 mm. Shoulders are read smoothed, which takes 0.01 off.
    """
    ink = bar(S, 0.3, SIGMA) - paler * bar(S, 0.1, SIGMA)
    values = read(0.9 * (1 - DEPTH * ink), alone(0.3, SIGMA), SIGMA)
    assert values.hollow[0] == pytest.approx(expected, abs=0.015)


@pytest.mark.parametrize("gap", [0.06, 0.08, 0.1, 0.14])
@pytest.mark.parametrize("ground", [1.0, 0.87])
def test_ground_between_hatching_is_the_true_one(gap, ground):
    width = 0.06
    ink = sum(bar(S - k * (width + gap), width, SIGMA) for k in range(-4, 5))
    where = spans(width, (width + gap) / 2, gap=gap)
    values = read(ground * (1 - DEPTH * ink), where, SIGMA)
    assert values.ground[0] == pytest.approx(ground, rel=0.005)
    assert values.load_um[0] == pytest.approx(width * 1000 * DEPTH, rel=0.02)
    # What is seen in the middle of the gap is darker than the ground by the closed form of both tails.
    if gap == 0.06:
        assert values.gap_reflectance[0] < 0.83 * ground


def test_leak_into_a_gap_is_the_integral_of_both_tails():
    """Against numerical integration of the tails over the strip (scipy.integrate.quad)."""
    from scipy.special import ndtr  # noqa: PLC0415  beside its only use

    for gap, half in [(0.06, 0.012), (0.1, 0.02), (0.2, 0.04)]:
        one, _ = quad(lambda x: ndtr(-x / SIGMA), gap / 2 - half, gap / 2 + half)
        assert gap_leak(np.array([gap]), np.array([half]), SIGMA)[0] == pytest.approx(
            2 * one / (2 * half), rel=1e-6
        )
    assert gap_leak(np.array([np.inf]), np.array([0.04]), SIGMA)[0] == 0


def test_a_line_beside_its_place_is_centred():
    for shift in (-0.03, 0.011, 0.04):
        values = read(1 - DEPTH * bar(S - shift, 0.08, SIGMA), alone(0.08, SIGMA), SIGMA)
        assert values.offset_mm[0] == pytest.approx(shift, abs=0.0005)


def test_a_missing_line_has_no_load_and_a_hollow_one_says_so():
    nothing = read(np.full(len(S), 0.95), alone(0.06, SIGMA), SIGMA)
    assert abs(nothing.load_um[0]) < 0.1
    width, hole = 0.4, 0.14
    solid = bar(S, width, SIGMA)
    values = read(1 - DEPTH * (solid - 0.4 * bar(S, hole, SIGMA)), alone(width, SIGMA), SIGMA)
    # The centre of a hole of 6.4 sigmas keeps 2 Phi(3.18) - 1 = 0.9985 of its depth.
    assert values.hollow[0] == pytest.approx(0.4 * 0.9985, abs=0.01)
    assert read(1 - DEPTH * solid, alone(width, SIGMA), SIGMA).hollow[0] < 0.01


def test_profiles_outside_the_scan_cannot_be_measured():
    light = clear_light(
        [stroke(1, 1, 0, 2, 0.06)], (60, 60), SIGMA, place=lambda p: p * 23.6, back=lambda p: p / 23.6
    )
    at = np.array([[30.0, 23.6], [1.0, 23.6], [-50.0, 20.0]])
    across = np.tile([23.6, 0.0], (3, 1))
    profiles = read_profiles(plane_of(light, noise=0), even_paper(), at, across, 23.6, 0.3)
    three = Spans(*(np.full(3, value) for value in (0.06, 0.15, 0.15, np.inf, np.inf)))
    values = measure_crossings(profiles, three, SIGMA, np.full(3, 0.05))
    assert np.isfinite(values.load_um).tolist() == [True, False, False]


@pytest.mark.parametrize("angle", [0, 11, 45, 62])
@pytest.mark.parametrize("width", [0.03, 0.06, 0.15, 0.3])
def test_load_read_from_pixels(angle, width):
    """At 600 ppi from square 16-bit pixels, lines in any direction."""
    per_mm = 600 / 25.4
    light = scan_light(
        [stroke(3, 3, angle, 5, width)],
        (142, 142),
        0.018,
        place=lambda mm: mm * per_mm,
        back=lambda px: px / per_mm,
    )
    turn = np.radians(angle)
    along, across = np.array([np.cos(turn), -np.sin(turn)]), np.array([np.sin(turn), np.cos(turn)])
    points = (3 + np.linspace(-1.8, 1.8, 40)[:, None] * along) * per_mm
    profiles = read_profiles(
        plane_of(light, noise=0), even_paper(), points, np.tile(across * per_mm, (40, 1)), per_mm
    )
    reach = width / 2 + 3.5 * SIGMA + 0.04
    places = Spans(*(np.full(40, value) for value in (width, reach, reach, np.inf, np.inf)))
    values = measure_crossings(profiles, places, SIGMA, np.full(40, 0.05))
    # A line of 30 µm is 0.7 px wide; cubic convolution then overshoots a little where its ground is read.
    assert np.mean(values.load_um) == pytest.approx(width * 1000 * DEPTH, rel=0.015 if width < 0.06 else 0.01)
