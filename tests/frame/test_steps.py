"""Film's edge among bands of ink, on profiles whose formula is known; the truth is the course that was put in."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ndtr

from proofkit.frame.steps import sharp_steps

PITCH_MM = 25.4 / 600
T_MM = np.arange(-47, 48) * PITCH_MM
LEVER = np.linspace(-1, 1, 8)
NOISE = 0.0003


def film(d, height):
    return height * ndtr(d / 0.042)


def band(d, height, middle, sigma):
    """Ink on the bevel before the film."""
    return height * np.exp(-0.5 * ((d - middle) / sigma) ** 2)


def profiles(course, shape, seed):
    """Return the profiles of eight stretches, whose `shape` may differ, with grain."""
    rng = np.random.default_rng(seed)
    return np.stack(
        [
            shape(T_MM - place, rng) + NOISE * rng.standard_normal(len(T_MM))
            for place in np.broadcast_to(course, LEVER.shape)
        ]
    )


def found(course, shape, seed):
    return sharp_steps(profiles(course, shape, seed), np.full(len(LEVER), NOISE), T_MM, LEVER)


def hidden(d, rng):
    """Film as dark as the band that lies before it: its edge is a small rise on the band's flank."""
    return film(d, 0.015) + band(d, rng.uniform(0.012, 0.018), -0.16, 0.11)


@settings(max_examples=40, deadline=None)
@given(place=st.floats(0.15, 0.3), slant=st.floats(-0.08, 0.08), seed=st.integers(0, 10_000))
def test_film_behind_a_band_is_found_though_the_line_followed_the_band(place, slant, seed):
    course = place + slant * LEVER
    steps = found(course, hidden, seed)
    assert steps is not None
    seen = np.isfinite(steps)
    assert seen.sum() >= 5
    np.testing.assert_allclose(steps[seen], course[seen], atol=0.03)
    assert np.median(np.abs(steps[seen] - course[seen])) < 0.5 * PITCH_MM


SHAPES = {
    "bare paper": lambda d, rng: 0.0 * d,
    "bands alone": lambda d, rng: band(d, rng.uniform(0.01, 0.04), 0.1, rng.uniform(0.1, 0.2)),
    "film that was followed": lambda d, rng: film(d, 0.03),
    "film that was followed, a line before it": lambda d, rng: film(d, 0.03) + band(d, 0.04, -0.22, 0.04),
    "film that was followed, a band before it": lambda d, rng: film(d, 0.03) + band(d, 0.02, -0.2, 0.1),
}


@pytest.mark.parametrize("name", list(SHAPES))
@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_the_line_stays(name, seed):
    assert found(0.0, SHAPES[name], seed) is None


def test_steps_that_lie_on_no_course_are_none():
    """Ends of engraved lines are sharp, but a hand does not end them on one line."""
    rng = np.random.default_rng(3)
    assert found(rng.uniform(0.05, 0.35, len(LEVER)), lambda d, _: film(d, 0.05), 5) is None
