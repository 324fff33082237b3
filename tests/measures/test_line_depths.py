"""Depths told together: kinds of lines drawn from the model that is stated, and what must follow from it."""

import numpy as np
import pytest

from proofkit.measures.line_depths import DEPTH_SPREAD, FEWEST, depths_together, kinds_of

PRIOR, BLUR, U_BLUR = 0.94, 0.024, 0.005
WIDTHS = np.array([0.05, 0.07, 0.1, 0.2])
HELD = np.array([0.9, 0.6, 0.2, 0.02])
"""Shares held of lines of two to eight blur sigmas, as ruled plates of 600 ppi have them. [-]"""


def fitted(depths, count, rng, noise=0.05, held=HELD):
    """Crossings of four kinds held near the prior: a normal mean between it and what their own pixels say."""
    kind = np.repeat(np.arange(len(depths)), count)
    own = depths[kind] + noise / np.sqrt(1 - held[kind]) * rng.standard_normal(len(kind))
    share = held[kind]
    return share * PRIOR + (1 - share) * own, share, kind, WIDTHS[kind]


def together(depths, count, rng, **kw):
    depth, held, kind, width = fitted(np.asarray(depths), count, rng, **kw)
    found = depths_together(depth, held, PRIOR, kind, width, blur_mm=BLUR, u_blur=U_BLUR)
    first = [int(np.flatnonzero(kind == k)[0]) for k in range(len(depths))]
    return found.depth[first], found.u_depth[first]


def test_fine_lines_that_print_paler_are_told_from_what_single_ones_hardly_show():
    rng = np.random.default_rng(1)
    true = np.array([0.900, 0.905, 0.92, 0.94])
    depth, u_depth = together(true, 3000, rng)
    assert np.abs(depth - true).max() < 0.012
    assert np.all(np.abs(depth - true) < 2.5 * u_depth)
    assert np.all(u_depth[1:] < 0.6 * DEPTH_SPREAD)


@pytest.mark.parametrize("seed", [11, 12])
def test_intervals_hold_depths_that_scatter_as_stated(seed):
    """95 % intervals of 2000 kinds whose depths scatter about a common course by the stated spread."""
    rng = np.random.default_rng(seed)
    held = []
    for _ in range(500):
        slope = 0.05 * rng.standard_normal()
        course = PRIOR + DEPTH_SPREAD * rng.standard_normal() + slope * np.log(WIDTHS / (4 * BLUR))
        true = course + DEPTH_SPREAD * rng.standard_normal(4)
        true = np.minimum(true, 0.97)
        found, u_depth = together(true, 400, rng)
        held.append(np.abs(found - true) < 1.96 * u_depth)
    assert np.mean(held) > 0.93


def test_kinds_too_narrow_to_speak_follow_the_others():
    """Lines whose depth is all held: the course of the others over their widths tells it."""
    rng = np.random.default_rng(3)
    true = PRIOR + 0.04 * np.log(WIDTHS / (4 * BLUR))
    depth, u_depth = together(true, 3000, rng, held=np.array([0.9999, 0.3, 0.2, 0.02]))
    assert depth[0] == pytest.approx(true[0], abs=0.02)
    assert abs(depth[0] - true[0]) < abs(PRIOR - true[0])
    assert u_depth[0] > 0.9 * DEPTH_SPREAD


def test_few_crossings_and_lines_of_no_kind_stay_where_they_were_held():
    rng = np.random.default_rng(4)
    depth, held, kind, width = fitted(np.full(4, 0.8), FEWEST - 1, rng)
    found = depths_together(depth, held, PRIOR, kind, width, blur_mm=BLUR, u_blur=U_BLUR)
    assert np.all(found.depth == PRIOR)
    depth, held, kind, width = fitted(np.full(4, 0.8), 500, rng)
    kind[:] = -1
    found = depths_together(depth, held, PRIOR, kind, width, blur_mm=BLUR, u_blur=U_BLUR)
    assert np.all(found.depth == PRIOR)
    assert np.all(found.u_depth == DEPTH_SPREAD)


def test_kinds_are_half_octaves_of_width_within_a_region():
    region = np.array([0, 0, 0, 1, -1])
    kinds = kinds_of(region, np.array([0.05, 0.052, 0.08, 0.05, 0.05]))
    assert kinds[0] == kinds[1] != kinds[2]
    assert kinds[3] != kinds[0]
    assert kinds[4] == -1
