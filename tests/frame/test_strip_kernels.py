"""Strips across the sheet against numpy and scipy."""

import numpy as np
import pytest
from scipy import ndimage

from proofkit.frame.strip_kernels import FULL_OUT, LONG, NOTICED, departures, joined_evidence, strip_means
from proofkit.frame.strips import cut_strips
from proofkit.threads import threads_limited


def test_means_of_both_kinds_of_strips_are_numpys() -> None:
    plane = np.random.default_rng(1).integers(0, 65536, (118, 211), dtype=np.uint16)
    parts = [strip_means(plane, *rows, (4, 3), (11, 9)) for rows in ((0, 3), (3, 7), (7, 10))]
    flat, upright = (np.concatenate(part) for part in zip(*parts, strict=True))
    seen = plane.astype(np.float64)
    expected = seen[:116, :207].reshape(29, 4, 23, 9).mean(axis=(1, 3))
    assert flat == pytest.approx(expected, rel=1e-6)
    expected = seen[:110, :210].reshape(10, 11, 70, 3).mean(axis=(1, 3))
    assert upright == pytest.approx(expected, rel=1e-6)


def test_white_strips_do_not_overflow() -> None:
    flat, upright = strip_means(np.full((240, 240), 65535, np.uint16), 0, 1, (240, 240), (240, 240))
    assert flat[0, 0] == upright[0, 0] == 65535


def test_strips_do_not_depend_on_the_number_of_threads() -> None:
    plane = np.random.default_rng(2).integers(2**15, 2**16, (700, 500), dtype=np.uint16)
    cut = []
    for threads in (1, 2):
        with threads_limited(threads):
            cut.append(cut_strips(plane, 0.9, (23.6, 23.6)))
    for one, other in zip(*cut, strict=True):
        assert np.array_equal(one.density, other.density)


@pytest.fixture
def density() -> np.ndarray:
    """Twelve strips of paper, rougher from the middle on, with a step of 0.05 D after it."""
    rng = np.random.default_rng(3)
    scatter = np.where(np.arange(200) < 100, 0.002, 0.01)
    return (rng.normal(0.0, 1.0, (12, 200)) * scatter + 0.05 * (np.arange(200) >= 120)).astype(np.float32)


def test_departures_are_those_of_windows(density: np.ndarray) -> None:
    far, near, inside = 16, 3, 15
    short, long, unrest, _ = departures(density, (far, near, inside), 15, 0.03, 7)
    windows = np.lib.stride_tricks.sliding_window_view(density.astype(np.float64), far - near + 1, axis=1)
    within = slice(far, 200 - inside)
    level = windows.mean(axis=-1)[:, : 200 - inside - far]
    assert np.abs(density[:, far:].astype(np.float64)[:, : level.shape[1]]).max() > 0.03
    two = 0.5 * (density[:, within].astype(np.float64) + density[:, far + 1 : 201 - inside])
    film = np.lib.stride_tricks.sliding_window_view(density.astype(np.float64), inside, axis=1).mean(axis=-1)
    assert short[:, within] == pytest.approx(np.abs(two - level), abs=1e-7)
    assert long[:, within] == pytest.approx(np.abs(film[:, far + 1 : 201 - inside] - level), abs=1e-7)
    scatter = windows.std(axis=-1)[:, : level.shape[1]]
    is_paper = np.abs(level) < 0.03
    assert 0 < is_paper.mean() < 1
    assert unrest[:, within] == pytest.approx(np.where(is_paper, scatter, -1.0), abs=1e-6)
    assert (unrest[:, :far] == -1.0).all()


def test_what_is_typical_is_told_at_some_places_of_paper(density: np.ndarray) -> None:
    short, long, unrest, typical = departures(density, (16, 3, 15), 15, 0.03, 7)
    some = np.flatnonzero(unrest.ravel()[::7] >= 0) * 7
    inner = (some % 200 >= 15) & (some % 200 < 185)
    rms = [
        np.sqrt(ndimage.uniform_filter1d(part.astype(np.float64) ** 2, 31, axis=1)) for part in (short, long)
    ]
    expected = np.stack([part.ravel()[some] for part in (unrest, *rms)], axis=1)
    assert typical[inner] == pytest.approx(expected[inner], rel=1e-4)


@pytest.mark.parametrize("join", [(1, 1), (2, 2), (4, 2)])
def test_evidence_is_the_larger_departure_times_the_quiet_before_it(join: tuple[int, int]) -> None:
    rng = np.random.default_rng(4)
    short, long = (rng.uniform(0, 8, (9, 101)).astype(np.float32) for _ in range(2))
    unrest = rng.uniform(-0.5, 5, (9, 101)).astype(np.float32)
    evidence = joined_evidence(short, long, unrest, (1.0, 1.2, 0.9), 4, join)

    def share(values: np.ndarray) -> np.ndarray:
        return np.clip((values - NOTICED) / (FULL_OUT - NOTICED), 0, 1)

    ahead = ndimage.maximum_filter1d(share(short / 1.2), 4, axis=1, origin=-2, mode="nearest")
    quiet = np.where(unrest < 0, 0.0, 1 - np.clip((unrest - 1.8) / 2.0, 0, 1))
    single = np.maximum(ahead, LONG * share(long / 0.9)) * quiet
    strips, samples = 9 // join[0], 101 // join[1]
    single = single[: strips * join[0], : samples * join[1]]
    wide = single.reshape(strips, join[0], samples, join[1]).max(axis=3).mean(axis=1)
    assert evidence == pytest.approx(wide, abs=1e-6)
