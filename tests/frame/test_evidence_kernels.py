"""How completely a mark shows, against plain array work."""

import numpy as np
import pytest

from proofkit.frame.evidence_kernels import part_shown, share_beyond
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
