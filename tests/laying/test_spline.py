"""The warp keeps what a cubic B-spline reproduces exactly, and finds smooth fields from scattered observations."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import BSpline

from proofkit.laying.spline import (
    WARP_STEP_MM,
    control_shape,
    fit_warp,
    halved_net,
    split_affine,
    widened_net,
)
from proofkit.laying.start import laying_of_corners
from proofkit.laying.types import Laying, basis, to_sheet_px, warp_at

SIZE = (60.0, 45.0)
PER_MM = 23.6


def flat():
    rows, columns = control_shape(*SIZE, WARP_STEP_MM)
    affine = np.array([[PER_MM, 0.3, 100.0], [-0.3, PER_MM, 50.0]])
    return Laying(affine, np.zeros((rows, columns, 2)), WARP_STEP_MM, 1, 1, 0, 0, mirrored=False, misfit_um=0)


def scattered(n=600, seed=1):
    return np.random.default_rng(seed).uniform((0, 0), SIZE, (n, 2))


def full_say(n, sigma_px=0.1):
    return np.tile(np.eye(2) / sigma_px**2, (n, 1, 1))


def test_basis_is_the_cardinal_cubic_b_spline():
    """Against scipy.interpolate.BSpline."""
    cardinal = BSpline.basis_element(np.arange(5.0), extrapolate=False)
    t = np.linspace(0, 0.999, 20)
    for k, weights in enumerate(basis(t)):
        assert weights == pytest.approx(cardinal(t + 3 - k), abs=1e-12)


def test_an_affine_field_is_fitted_exactly():
    points = scattered()
    linear = np.array([[0.11, -0.04], [0.02, -0.08]])
    offsets = points @ linear.T + np.array([4.0, -7.0])
    laying, say = fit_warp(flat(), points, offsets, full_say(len(points)), px_per_mm=PER_MM)
    anew = scattered(seed=2)
    truth = anew @ linear.T + np.array([4.0, -7.0])
    # 1e-6 px is the ridge of 1e-9 that keeps the equations regular.
    assert warp_at(laying, anew) == pytest.approx(truth, abs=1e-4)
    assert say.min() > 0.99


def wave(points):
    return 3.0 * np.column_stack((np.sin(points[:, 1] / 13), np.cos(points[:, 0] / 17)))


def test_a_smooth_warp_is_found_among_strays():
    """3 px (0.13 mm) of warp, observed to 0.3 px, with one observation in ten far off: rms under 0.15 px (6 µm)."""
    rng = np.random.default_rng(3)
    points = scattered(1200)
    seen = wave(points) + rng.normal(0, 0.3, points.shape)
    strays = rng.random(len(points)) < 0.1
    seen[strays] += rng.uniform(-20, 20, (strays.sum(), 2))
    laying, say = fit_warp(flat(), points, seen, full_say(len(points), 0.3), px_per_mm=PER_MM)
    error = warp_at(laying, scattered(seed=4)) - wave(scattered(seed=4))
    assert np.sqrt(np.mean(error**2)) < 0.15
    assert np.median(say[strays]) < 0.05
    assert np.median(say[~strays]) > 0.8


def test_lines_of_two_directions_hold_both():
    """An observation that speaks only across its line leaves the rest to lines of the other direction."""
    points = scattered(1500)
    angle = np.where(np.arange(len(points)) % 2, 0.3, 1.5)
    across = np.column_stack((np.sin(angle), np.cos(angle)))
    say = np.einsum("na,nb->nab", across, across) / 0.1**2
    seen = (wave(points) * across).sum(axis=1, keepdims=True) * across
    laying, _ = fit_warp(flat(), points, seen, say, px_per_mm=PER_MM)
    error = warp_at(laying, scattered(seed=5)) - wave(scattered(seed=5))
    assert np.sqrt(np.mean(error**2)) < 0.2


def test_a_plate_on_its_side_is_fitted_alike():
    """Controls are numbered along the shorter side; what is told must not depend on which that is."""
    points, rng = scattered(400), np.random.default_rng(9)
    turn = np.array([[0.0, 1.0], [1.0, 0.0]])
    say = np.einsum("na,nb->nab", *2 * [rng.normal(0, 3, points.shape)])
    seen = wave(points) + rng.normal(0, 0.3, points.shape)
    wide, wide_say = fit_warp(flat(), points, seen, say, px_per_mm=PER_MM)
    controls = np.zeros((*control_shape(*SIZE[::-1], WARP_STEP_MM), 2))
    high, high_say = fit_warp(
        replace(flat(), warp_px=controls), points @ turn, seen @ turn, turn @ say @ turn, px_per_mm=PER_MM
    )
    assert high.warp_px == pytest.approx(wide.warp_px.swapaxes(0, 1)[..., ::-1], abs=1e-6)
    assert high_say == pytest.approx(wide_say, abs=1e-9)


def test_a_warp_is_the_same_on_controls_half_as_far_apart():
    """A cubic B-spline is one of half the step as well."""
    for size in (SIZE, (61.0, 43.0)):
        wide = widened_net(flat(), size, 2 * WARP_STEP_MM)
        wide = replace(wide, warp_px=np.random.default_rng(10).normal(0, 5, wide.warp_px.shape))
        points = np.random.default_rng(11).uniform((0, 0), size, (600, 2))
        near = halved_net(wide, size)
        assert near.warp_step_mm == WARP_STEP_MM
        assert near.warp_px.shape[:2] == control_shape(*size, WARP_STEP_MM)
        assert to_sheet_px(near, points) == pytest.approx(to_sheet_px(wide, points), abs=1e-9)


def test_a_warp_that_bends_little_is_the_same_on_controls_further_apart():
    """Corners of a mark make a map that is linear along each axis: a cubic B-spline of any step holds it.

    To 0.02 px, a thousandth of a cell of the coarsest level: its stiffness has a say as well.
    """
    points = scattered(seed=11)
    corners = np.array([(100.0, 50.0), (1516.0, 60.0), (1530.0, 1112.0), (104.0, 1120.0)])
    near = laying_of_corners(corners, *SIZE)
    wide = widened_net(near, SIZE, 4 * WARP_STEP_MM)
    assert wide.warp_px.shape[:2] == control_shape(*SIZE, 4 * WARP_STEP_MM)
    assert np.ptp(warp_at(near, points)) > 1.0
    assert to_sheet_px(wide, points) == pytest.approx(to_sheet_px(near, points), abs=0.02)


def test_a_wider_net_is_as_stiff():
    """Observations too few and vague to bend a warp leave it as straight on a net of twice the step."""
    points = scattered(400)
    seen = wave(points) + np.random.default_rng(12).normal(0, 3.0, points.shape)
    nets = (halved_net(flat(), SIZE), flat())
    told = [fit_warp(net, points, seen, full_say(400, 3.0), px_per_mm=PER_MM)[0] for net in nets]
    errors = [np.sqrt(np.mean((warp_at(laying, points) - wave(points)) ** 2)) for laying in told]
    assert errors[0] == pytest.approx(errors[1], rel=0.2)


def test_strays_lose_their_say_at_once_where_the_start_is_near():
    """One round from the field itself is as good as four from nothing."""
    points, rng = scattered(1200), np.random.default_rng(13)
    seen = wave(points) + rng.normal(0, 0.3, points.shape)
    strays = rng.random(len(points)) < 0.3
    seen[strays] += (8.0, 0.0)
    near, _ = fit_warp(flat(), points, wave(points), full_say(1200), px_per_mm=PER_MM)
    left = seen - warp_at(near, points)
    error = []
    for said in (True, False):
        laying, _ = fit_warp(near, points, left, full_say(1200, 0.3), px_per_mm=PER_MM, steps=1, near=said)
        error.append(np.sqrt(np.mean((warp_at(laying, points) - wave(points)) ** 2)))
    assert error[0] < 0.15
    assert error[1] > 1.0


def test_splitting_off_the_affine_part_moves_no_point():
    rng = np.random.default_rng(6)
    bent = flat()
    controls = rng.normal(0, 2, bent.warp_px.shape)
    controls[..., 0] += 0.7 * np.arange(controls.shape[1])
    bent = replace(bent, warp_px=controls)
    split = split_affine(bent, *SIZE)
    points = scattered()
    assert to_sheet_px(split, points) == pytest.approx(to_sheet_px(bent, points), abs=1e-9)
    assert np.abs(split.affine - bent.affine).max() > 0.01
    # What is left in the warp has no linear part any more.
    again = split_affine(split, *SIZE)
    assert again.affine == pytest.approx(split.affine, abs=1e-9)


def test_the_affine_part_is_the_best_one_over_the_area():
    """Least squares of x³ over 0 .. L make a slope of 0.9 L² (algebra); points that reach the edges, 0.91 L².

    Controls x³ - h² x of step h give x³, as a uniform cubic B-spline has a variance of h²/3.
    """
    bent = flat()
    x = (np.arange(bent.warp_px.shape[1]) - 1.0) * WARP_STEP_MM
    controls = np.zeros_like(bent.warp_px)
    controls[..., 0] = 1e-4 * (x**3 - WARP_STEP_MM**2 * x)
    split = split_affine(replace(bent, warp_px=controls), *SIZE)
    slope = split.affine - bent.affine
    assert slope[0, 0] == pytest.approx(1e-4 * 0.9 * SIZE[0] ** 2, rel=1e-3)
    assert slope[1] == pytest.approx(np.zeros(3), abs=1e-9)


def test_places_on_a_sheet_are_affine_map_and_warp_within_and_beyond_the_plate():
    """Against the affine map in numpy and `BSpline` for the warp."""
    rng = np.random.default_rng(7)
    laying = flat()
    laying = replace(laying, warp_px=rng.normal(0, 5, laying.warp_px.shape))
    points = np.vstack((scattered(200, seed=8), [(-4.0, 10.0), (10.0, SIZE[1] + 3.0)]))
    rows, columns, _ = laying.warp_px.shape
    held = np.clip(points / WARP_STEP_MM, 0, np.array([columns, rows]) - 3 - 1e-9)
    knots = [np.arange(-3.0, n + 1) for n in (columns, rows)]
    across, down = (
        BSpline.design_matrix(held[:, axis], knots[axis], 3).toarray()[:, : laying.warp_px.shape[1 - axis]]
        for axis in (0, 1)
    )
    bent = np.einsum("nr,nc,rca->na", down, across, laying.warp_px)
    wanted = points @ laying.affine[:, :2].T + laying.affine[:, 2] + bent
    assert to_sheet_px(laying, points) == pytest.approx(wanted, abs=1e-9)


def test_a_place_that_is_no_number_stays_none():
    assert not np.isfinite(to_sheet_px(flat(), np.array([(np.nan, 3.0)]))).any()
