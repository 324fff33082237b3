"""Parts of the line measures whose answer follows from algebra or statistics."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.special import ndtr
from scipy.stats import trim_mean

from proofkit.laying.standard_lines import smooth_along
from proofkit.measures.lines import TRIPLES_ALIKE, _rough, _triples
from proofkit.measures.sampling import middle_mean, u_median, u_middle, u_of_ranks, u_robust_spread
from proofkit.measures.uncertainty import (
    HOLLOW_BY_CURVE,
    SOFTNESS_BY_CURVE,
    WIDTH_BY_CURVE,
    depth_by_blur,
    hatch_sensitivity,
    load_by_curve,
    quantisation,
    width_by_blur,
)


def test_uncertainty_of_a_median_is_its_scatter():
    """Against the scatter of medians of 2000 readings: lines that differ by 4 µm, each crossing read to 1 µm."""
    rng = np.random.default_rng(1)
    number = np.repeat(np.arange(40), 10)
    true = np.repeat(rng.normal(50, 4, 40), 10)
    readings = true + rng.normal(0, 1, (2000, 400))
    stated = np.mean([u_median(reading, number) for reading in readings[:200]])
    assert stated == pytest.approx(np.std(np.median(readings, axis=1)), rel=0.25)


@pytest.mark.parametrize("count", [1, 5, 8, 1003])
def test_the_middle_is_the_mean_without_a_quarter_at_each_end(count):
    """Against the trimmed mean of scipy."""
    values = np.random.default_rng(count).lognormal(4, 0.4, count)
    assert middle_mean(values) == pytest.approx(trim_mean(values, 0.25), rel=1e-12)


@pytest.mark.parametrize("noise", [0.2, 1.0, 2.0, 4.0])
def test_uncertainty_of_the_middle_is_its_scatter(noise):
    """Against the scatter of 2000 readings of crossings that differ by 4 µm."""
    rng = np.random.default_rng(1)
    number = np.repeat(np.arange(40), 10)
    true = np.repeat(rng.normal(50, 4, 40), 10)
    readings = true + rng.normal(0, noise, (2000, 400))
    stated = np.mean([u_middle(reading, number) for reading in readings[:200]])
    assert stated == pytest.approx(np.std([middle_mean(reading) for reading in readings]), rel=0.15)


def test_lines_that_swell_repeat_better_by_their_middle_than_by_their_median():
    # Eight lines that swell from 55 to 155 µm, read to 5 µm.
    rng = np.random.default_rng(4)
    true = np.tile(55 + 100 * np.sin(np.linspace(0, np.pi, 50)) ** 2, 8)
    readings = true + rng.normal(0, 5, (1000, 400))
    number = np.repeat(np.arange(8), 50)
    middles = [middle_mean(reading) for reading in readings]
    assert np.std(middles) < 0.5 * np.std(np.median(readings, axis=1))
    assert np.mean([u_middle(reading, number) for reading in readings[:200]]) == pytest.approx(
        np.std(middles), rel=0.25
    )


def test_crossings_that_are_alike_count_less():
    """Noise that two neighbours share: its effective number is half of that of independent noise."""
    rng = np.random.default_rng(2)
    number = np.repeat(np.arange(100), 20)
    free = rng.normal(0, 1, (300, 2000))
    shared = (free + np.roll(free, 1, axis=1)) / np.sqrt(2)
    stated = np.mean([u_median(reading, number) for reading in shared])
    assert stated == pytest.approx(np.std(np.median(shared, axis=1)), rel=0.2)


def test_what_was_not_read_adds_to_the_uncertainty():
    """Loads that scatter by 4 µm from crossing to crossing, a tenth of which is read."""
    rng = np.random.default_rng(3)
    whole = rng.normal(50, 4, 4000)
    some = [rng.choice(whole, 400, replace=False) for _ in range(2000)]
    for middle, u in ((np.median, u_median), (middle_mean, u_middle)):
        stated = u(np.sort(whole[::10]), np.arange(400), share=0.1)
        assert stated == pytest.approx(np.std([middle(part) for part in some]), rel=0.15)


@pytest.mark.parametrize("shared", [1, 8])
@pytest.mark.parametrize("centre", [2.0, 0.5, 0.0, -0.3, -0.6])
def test_values_cut_off_at_0_are_as_uncertain_as_they_scatter(centre, shared):
    """Normal values cut off at 0, up to three quarters of them, noise shared by neighbours: the scatter of readings."""
    rng = np.random.default_rng(6)
    noise = np.repeat(rng.normal(0, 1, (2000, 1600 // shared)), shared, axis=1)
    readings = np.maximum(centre + noise, 0)
    stated = np.mean([u_of_ranks(reading) for reading in readings[:300]])
    assert (
        0.85
        < stated / np.std([middle_mean(reading) for reading in readings])
        < (1.25 if centre > -0.5 else 2.0)
    )


def test_values_that_are_nearly_all_0_are_certain_but_for_the_last():
    values = np.zeros(200)
    values[:49] = 0.01
    # Too few for blocks: 0.43 sqrt(200) is 6.1 ranks, taken as six; one of them is 0, five more are not.
    assert u_of_ranks(values) == pytest.approx(0.01 * 5 / 100 * 6.12 / 6, rel=0.01)


def test_hatching_depends_on_blur_and_depth_as_refitting_says():
    """Against the ratio of mean and first harmonic solved anew with another blur and another depth (scipy brentq)."""
    from scipy.optimize import brentq  # noqa: PLC0415  beside its only use

    period, width, depth, blur = 0.14, 0.05, 0.93, 0.022

    def ratio(load, d, s):
        cover = load / period
        harmonic = np.sinc(load / d / period) * np.exp(-2 * np.pi**2 * s**2 / period**2)
        return 2 * harmonic * cover / (1 - cover)

    seen = ratio(width * depth, depth, blur)
    found = hatch_sensitivity(width * depth, width, period, blur)
    for d, s, stated in (
        (depth, 1.01 * blur, found.load_by_blur),
        (1.01 * depth, blur, found.load_by_depth),
    ):
        again = brentq(lambda load, d=d, s=s: ratio(load, d, s) - seen, 0.01, 0.1)
        assert (again / (width * depth) - 1) / 0.01 == pytest.approx(stated, rel=0.05)


@pytest.mark.parametrize(
    ("noise", "factor"), [(0.0, 1.0), (0.5, np.exp(-(np.pi**2) / 2)), (1.0, np.exp(-2 * np.pi**2))]
)
def test_noise_takes_the_steps_of_codes_away(noise, factor):
    """At 8 bits and R = 0.89 a step is 2.2 / 242 = 0.9 %: 0.004 D, as the table of sRGB codes says near D 0.05."""
    step = 2.2 / (255 * 0.891251 ** (1 / 2.2))
    assert step / np.log(10) == pytest.approx(0.004, abs=0.0002)
    found = quantisation(0.891251, 1.0, 8, noise * step * 0.891251)
    assert found == pytest.approx(step / np.sqrt(12) * factor, rel=1e-6)
    assert quantisation(0.891251, 1.0, 16, 0.0) < 1e-4


@pytest.mark.parametrize("sigmas", [2.0, 3.0, 5.0, 14.0])
def test_loads_and_widths_move_with_the_curve_as_integrals_say(sigmas):
    """Against the load and the half-depth width of a blurred bar whose densities are all 1 % too high."""
    s = np.linspace(-12, 12, 48001)
    light = 1 - 0.93 * (ndtr(sigmas / 2 - s) - ndtr(-sigmas / 2 - s))
    load, wrong = (np.trapezoid(1 - light**power, s) for power in (1, 1.01))
    moved, stated = (wrong / load - 1) / 0.01, load_by_curve(sigmas, 1.0)
    if sigmas >= 3:
        assert moved == pytest.approx(stated, rel=0.05)
    else:  # a line so narrow prints no full black: what is stated is on the safe side
        assert moved < stated < 1.2 * moved
    if sigmas > 4:  # narrower lines lose their full depth
        seen = [light**power for power in (1, 1.01)]
        half = [2 * np.interp(0, (p - (1 + p.min()) / 2)[s > 0], s[s > 0]) for p in seen]
        assert (half[1] - half[0]) / 0.01 == pytest.approx(WIDTH_BY_CURVE, rel=0.06)


def test_soft_edges_and_pale_centres_move_with_the_curve_as_profiles_say():
    """Against a blurred edge of depth 0.93 and two inks of a hollow line, with densities all 1 % too high."""
    x = np.linspace(-6, 6, 24001)
    distances, hollows = [], []
    for power in (1, 1.01):
        light = (1 - 0.93 * ndtr(x)) ** power
        ink = (1 - light) / (1 - light[-1])
        distances.append(np.interp(0.9, ink, x) - np.interp(0.1, ink, x))
        shoulder, centre = (1 - light_of_ink**power for light_of_ink in (0.07, 1 - 0.93 * 0.995))
        hollows.append(1 - centre / shoulder)
    assert distances[0] == pytest.approx(2 * 1.2815516, rel=1e-4)
    assert (distances[0] - distances[1]) / 0.01 == pytest.approx(SOFTNESS_BY_CURVE, rel=0.15)
    assert abs(hollows[1] / hollows[0] - 1) / 0.01 == pytest.approx(HOLLOW_BY_CURVE, rel=0.1)


@pytest.mark.parametrize("sigmas", [2.0, 3.0, 4.0, 5.0, 6.5, 8.0])
def test_widths_and_depths_move_with_the_blur_as_refitting_says(sigmas):
    """Against bars fitted by scipy's least squares with a blur 1 % too high and 1 % too low."""
    from scipy.optimize import least_squares  # noqa: PLC0415  beside its only use

    s = np.arange(-sigmas / 2 - 5.7, sigmas / 2 + 5.7, 0.05)

    def seen(width, depth, blur):
        return 1 - depth * (ndtr((width / 2 - s) / blur) - ndtr((-width / 2 - s) / blur))

    true = seen(sigmas, 0.93, 1.0)
    low, high = (
        least_squares(lambda t, b=b: t[0] * seen(t[1], t[2], b) - true, (1, sigmas, 0.93)).x
        for b in (0.99, 1.01)
    )
    _, by_width, by_depth = (high / low - 1) / 0.02
    assert width_by_blur(sigmas, 1.0) == pytest.approx(-by_width, rel=0.08, abs=0.005)
    assert depth_by_blur(sigmas, 1.0) == pytest.approx(by_depth, rel=0.12, abs=0.015)


def test_raggedness_is_the_spread_about_a_smooth_course():
    """White noise of 4 µm on an edge that swings slowly reads 4 µm (second differences have sqrt(6) of it)."""
    rng = np.random.default_rng(3)
    n = 4000
    edge = 0.05 * np.sin(np.arange(n) / 40) + rng.normal(0, 0.004, n)
    assert _rough(edge, np.arange(n - 2)) == pytest.approx(0.004, rel=0.05)
    assert np.isnan(_rough(edge, np.arange(0)))


@pytest.mark.parametrize("run", [4, 500])
def test_uncertainty_of_raggedness_is_its_scatter(run):
    """Edges of independent values, in runs of crossings on one line: 1000 readings of 2000 crossings."""
    rng = np.random.default_rng(5)
    lines = SimpleNamespace(points=np.arange(2000) + np.arange(2000) // run, number=np.arange(2000) // run)
    triples = _triples(np.ones(2000, dtype=bool), lines)
    found = [_rough(edge, triples) for edge in rng.normal(0, 1, (1000, 2000))]
    assert u_robust_spread(1.0, len(triples) / TRIPLES_ALIKE) == pytest.approx(np.std(found), rel=0.12)


def test_three_crossings_follow_each_other_on_a_line():
    points = np.array([4, 5, 6, 7, 9, 10, 11, 12, 13, 14])
    number = np.array([0, 0, 0, 0, 0, 0, 0, 1, 1, 1])
    wanted = np.array([True] * 9 + [False])
    lines = SimpleNamespace(points=points, number=number)
    assert _triples(wanted, lines).tolist() == [0, 1, 4]
    wanted[9] = True
    assert _triples(wanted, lines).tolist() == [0, 1, 4, 7]


def test_smoothing_keeps_to_one_line_and_passes_over_gaps():
    values = np.array([1.0, 1, 9, 1, 1, 5, 5, np.nan, 5, np.nan])
    line = np.array([0, 0, 0, 0, 0, 1, 1, 1, 1, 2])
    smooth = smooth_along(values, line, 1)
    assert smooth[:5].tolist() == [1, 1, 1, 1, 1]
    assert smooth[5:9].tolist() == [5, 5, 5, 5]
    assert np.isnan(smooth[9])
    assert len(smooth_along(np.empty(0), np.empty(0, dtype=np.int32), 3)) == 0


@pytest.mark.parametrize("half_width", [1, 2, 5])
def test_smoothing_is_the_median_of_what_is_known_on_the_line_beside(half_width):
    """Against numpy's nanmedian of each window."""
    rng = np.random.default_rng(4)
    line = np.repeat(np.arange(60, dtype=np.int32), rng.integers(1, 25, 60))
    values = np.where(rng.random(len(line)) < 0.3, np.nan, rng.normal(0, 1, len(line)))
    smooth = smooth_along(values, line, half_width)
    for i in range(len(line)):
        near = slice(max(i - half_width, 0), i + half_width + 1)
        known = values[near][line[near] == line[i]]
        known = known[np.isfinite(known)]
        assert smooth[i] == (np.median(known) if len(known) else pytest.approx(np.nan, nan_ok=True))
