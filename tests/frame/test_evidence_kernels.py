"""How completely a mark shows, against plain array work."""

import numpy as np
import pytest

from proofkit.frame.evidence_kernels import best_run, evidence, meeting, part_shown, share_beyond
from proofkit.scatter import robust_sd

CENTRES = np.arange(0.0, 300.0, 1.7)


def shares(seed):
    share = np.random.default_rng(seed).normal(0.5, 0.6, len(CENTRES))
    share[np.random.default_rng(seed + 1).random(len(share)) < 0.1] = np.nan
    return share


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_blocks_that_show_the_mark(seed):
    share, limits = shares(seed), np.linspace(40.0, 250.0, 13)
    share[np.digitize(CENTRES, limits) - 1 == 5] = np.nan  # a block of which nothing was read
    block = np.digitize(CENTRES, limits) - 1
    here = [share[(block == k) & np.isfinite(share)] for k in range(12)]
    means = [values.mean() if len(values) else 0.0 for values in here]
    assert part_shown(share, CENTRES, limits, 0.45) == np.mean(np.array(means) > 0.45)


@pytest.mark.parametrize("seed", [4, 5, 6])
def test_what_shows_beyond_the_corners(seed):
    share = shares(seed)
    off_mm = (CENTRES - 220.0) / 12
    known = np.isfinite(share) & (off_mm > 0.6)
    noise = robust_sd(share[known])
    wanted = 0.0
    for reach in (2.4, 6.0):
        near = np.clip(share[known & (off_mm < reach)], -1, 1)
        wanted = max(wanted, near.mean() - 2 * noise / np.sqrt(len(near)))
    assert share_beyond(share, off_mm, 0.6, (2.4, 6.0)) == pytest.approx(wanted, abs=1e-12)


def test_nothing_beyond_counts_for_nothing():
    assert share_beyond(np.ones(5), np.full(5, 0.5), 0.6, (2.4, 6.0)) == 0.0


@pytest.mark.parametrize("seed", [7, 8, 9])
def test_evidence_is_of_the_blocks_between_two_corners(seed):
    share, ends = shares(seed), (60.0, 240.0)
    limits = np.linspace(60 + 0.02 * 180, 240 - 0.02 * 180, 13)
    off_mm = np.maximum(60.0 - CENTRES, CENTRES - 240.0) / 12
    expected = part_shown(share, CENTRES, limits, 0.35), share_beyond(share, off_mm, 0.6, (2.4, 6.0))
    assert evidence(share, CENTRES, ends, 12.0) == expected


@pytest.mark.parametrize("seed", range(5))
def test_best_run_is_that_of_exhaustive_search(seed):
    share = shares(seed)
    gain = np.where(np.isfinite(share), np.clip(share, -0.5, 1.2) - 0.5, 0.0)
    n = len(gain)
    _, start, end = max((gain[a:b].sum(), a, b) for a in range(n) for b in range(a + 1, n + 1))
    assert best_run(CENTRES, share) == pytest.approx((CENTRES[start] - 0.85, CENTRES[end - 1] + 0.85))


def test_lines_meet_where_both_are():
    flat, upright = (500.0, 80.0, 0.04, 2e-5), (400.0, 120.0, -0.05, -3e-5)
    x, y = meeting(flat, upright)
    assert y == pytest.approx(80 + 0.04 * (x - 500) + 2e-5 * (x - 500) ** 2, abs=1e-9)
    assert x == pytest.approx(120 - 0.05 * (y - 400) - 3e-5 * (y - 400) ** 2, abs=1e-9)
