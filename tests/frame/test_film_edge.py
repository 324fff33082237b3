"""Film's edge among bands of ink, on profiles whose formula is known; the truth is the course that was put in."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ndtr

from proofkit.frame.film_edge import film_edge

PITCH_MM = 25.4 / 600
T_MM = np.arange(-47, 48) * PITCH_MM
LEVER = np.linspace(-1, 1, 44)
NOISE = 0.001
"""Of a median profile over 1.2 mm of edge: grain of 0.005 D, a fifth of it left by some 28 columns."""


def film(d, height):
    return height * ndtr(d / 0.035)


def band(d, height, middle, sigma):
    """Ink on the bevel before the film, or shade."""
    return height * np.exp(-0.5 * ((d - middle) / sigma) ** 2)


def profiles(course, shape, seed):
    """Return the profiles of all stretches, whose `shape` may differ along the edge, with grain."""
    rng = np.random.default_rng(seed)
    return np.stack(
        [
            shape(T_MM - place, u, rng) + NOISE * rng.standard_normal(len(T_MM))
            for place, u in zip(np.broadcast_to(course, LEVER.shape), LEVER, strict=True)
        ]
    )


def found(course, shape, seed):
    return film_edge(profiles(course, shape, seed), NOISE, T_MM, LEVER, 5)


def hidden(sigma):
    """Return thin film, unevenly wiped, whose edge lies on the falling flank of a band twice as dark."""
    return lambda d, u, _: film(d, 0.017 + 0.004 * u) + band(d, 0.035 + 0.008 * u, -1.2 * sigma, sigma)


def test_thin_film_is_found_on_the_flank_of_a_band():
    """On each of forty drawn edges; where it lies is a matter of their noise, so that is held on all together."""
    rng = np.random.default_rng(17)
    of_course, of_places = [], []
    for seed in range(40):
        place, slant, bow = rng.uniform((0.0, -0.2, -0.1), (0.3, 0.2, 0.1))
        course = place + slant * LEVER + bow * (LEVER**2 - 1 / 3)
        edge = found(course, hidden(rng.uniform(0.12, 0.25)), seed)
        assert edge is not None
        of_course.append(np.abs(np.median(edge.course_mm - course)))
        of_places += list(edge.places_mm - np.array([course[part].mean() for part in edge.members]))
    assert np.quantile(of_course, 0.95) < 0.4 * PITCH_MM
    assert np.sqrt(np.mean(np.square(of_places))) < 0.5 * PITCH_MM


def test_places_follow_a_wavy_edge():
    """Uneven stretch leaves 0.02 mm of an edge beside a course of second order; it is read, not smoothed away."""
    wave = 0.02 * np.sin(3.0 * np.pi * LEVER)
    off = []
    for seed in range(10):
        edge = found(0.1 + wave, lambda d, u, rng: film(d, 0.03) + band(d, 0.03, -0.2, 0.15), seed)
        true = np.array([0.1 + wave[part].mean() for part in edge.members])
        off.append(edge.places_mm - true)
    assert np.sqrt(np.mean(np.square(off))) < 0.7 * np.sqrt(np.mean(wave**2))


def test_stated_uncertainties_hold():
    off, u = [], []
    for seed in range(40):
        edge = found(0.05, hidden(0.16), seed)
        off += list(edge.places_mm - 0.05)
        u += list(edge.u_mm)
    held = np.mean(np.abs(off) < 2 * np.array(u))
    assert held > 0.85
    assert np.median(u) < 0.02


SHAPES = {
    "bare paper": lambda d, u, rng: 0.0 * d,
    "a band alone": lambda d, u, rng: band(d, 0.02 + 0.01 * u, 0.1, 0.15),
    "a dark band alone": lambda d, u, rng: band(d, 0.3, 0.0, 0.12),
    "light and shade": lambda d, u, rng: band(d, -0.02, -0.3, 0.15) + band(d, 0.03, 0.0, 0.12),
    "film that fades in": lambda d, u, rng: 0.02 * ndtr(d / 0.3),
}


@pytest.mark.parametrize("name", list(SHAPES))
@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_no_film_has_no_edge(name, seed):
    assert found(0.0, SHAPES[name], seed) is None


def test_ends_of_lines_on_no_course_are_no_edge_of_film():
    """They are sharp, but a hand does not end them on one line, and between them paper is bare."""
    rng = np.random.default_rng(3)
    ends = rng.uniform(0.05, 0.35, len(LEVER)) + np.where(rng.random(len(LEVER)) < 0.7, 9.0, 0.0)
    assert found(ends, lambda d, u, _: film(d, 0.05), 5) is None


def test_a_few_pencil_strokes_do_not_move_it():
    """A stroke of 0.2 D across the edge on five stretches of 44, a little outside."""
    struck = set(range(3, 44, 9))

    def shape(d, u, rng):
        stroke = 0.2 * (np.abs(d + 0.12) < 0.05) if round((u + 1) * 21.5) in struck else 0.0
        return hidden(0.16)(d, u, rng) + stroke

    off = [np.median(found(0.1, shape, seed).course_mm) - 0.1 for seed in range(10)]
    assert np.abs(off).max() < 0.5 * PITCH_MM
