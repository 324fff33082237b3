"""Marks on mean profiles whose formula is known; the truth is the shift that was put in."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ndtr

from proofkit.frame.profile import find_mark

PITCH_MM = 25.4 / 600
T_MM = np.arange(-71, 72) * PITCH_MM
NOISE = 0.0003


def step(d: np.ndarray, blur_mm: float = 0.042) -> np.ndarray:
    return ndtr(d / blur_mm)


def pair(d: np.ndarray, sigma_mm: float) -> np.ndarray:
    """Return a light band outside and a dark one inside, 1 at their tops."""
    return d / sigma_mm * np.exp(0.5 - 0.5 * (d / sigma_mm) ** 2)


def line(d: np.ndarray, sigma_mm: float = 0.05) -> np.ndarray:
    return np.exp(-0.5 * (d / sigma_mm) ** 2)


SHAPES = {
    "film": (lambda d: 0.06 * step(d), "tone step"),
    "faint film": (lambda d: 0.005 * step(d), "tone step"),
    "film, then hatching": (lambda d: 0.02 * step(d) + 0.4 * step(d - 0.5), "tone step"),
    "film, then a rule": (lambda d: 0.02 * step(d) + 0.8 * line(d - 0.5), "tone step"),
    "bevel ink": (lambda d: 0.2 * line(d) + 0.01 * step(d), "bevel line"),
    "bevel ink, then hatching": (lambda d: 0.1 * line(d) + 0.4 * step(d - 0.5), "bevel line"),
    "light and dark": (lambda d: 0.02 * pair(d, 0.2), "emboss shade"),
    "dark and light": (lambda d: -0.02 * pair(d, 0.2), "emboss shade"),
    "dark and light, then a rule": (lambda d: -0.02 * pair(d, 0.15) + 0.8 * line(d - 0.5), "emboss shade"),
    "shade and film": (lambda d: -0.02 * pair(d, 0.2) + 0.03 * step(d), "tone step"),
    "ink before the plate, and film": (lambda d: 0.03 * line(d + 0.25, 0.17) + 0.09 * step(d), "tone step"),
    "ink before the plate, and thin film": (
        lambda d: 0.04 * line(d + 0.2, 0.16) + 0.015 * step(d),
        "tone step",
    ),
    "light shade and ink before film": (
        lambda d: -0.007 * line(d + 0.2, 0.2) + 0.024 * line(d + 0.14, 0.12) + 0.025 * step(d),
        "tone step",
    ),
    "dark shade over the edge, and film": (
        lambda d: 0.04 * line(d + 0.2, 0.22) + 0.033 * step(d),
        "tone step",
    ),
}


@pytest.mark.parametrize("name", list(SHAPES))
@settings(max_examples=25, deadline=None)
@given(shift_mm=st.floats(-0.4, 0.4), seed=st.integers(0, 1000))
def test_mark_is_found_where_it_was_put(name: str, shift_mm: float, seed: int) -> None:
    shape, kind = SHAPES[name]
    noise = NOISE * np.random.default_rng(seed).standard_normal(len(T_MM))
    mark = find_mark(shape(T_MM - shift_mm) + noise, T_MM, NOISE, 1.2)
    assert mark is not None
    assert mark.kind == kind
    assert mark.place_mm == pytest.approx(
        shift_mm, abs=0.6 * PITCH_MM if name != "faint film" else 1.5 * PITCH_MM
    )


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 100_000), slope=st.floats(0, 0.001))
def test_bare_paper_has_no_mark(seed: int, slope: float) -> None:
    noise = NOISE * np.random.default_rng(seed).standard_normal(len(T_MM))
    assert find_mark(noise + slope * T_MM, T_MM, NOISE, 1.2) is None


def test_film_that_fades_out_has_no_mark() -> None:
    ramp = 0.004 * np.clip(T_MM + 0.5, 0, None)
    noise = NOISE * np.random.default_rng(4).standard_normal(len(T_MM))
    assert find_mark(ramp + noise, T_MM, NOISE, 1.2) is None


def test_half_way_point_of_a_wide_step_is_its_middle() -> None:
    """A straight ramp of 0.3 mm: half-way is its middle, by symmetry."""
    ramp = 0.05 * np.clip((T_MM - 0.1) / 0.3 + 0.5, 0, 1)
    mark = find_mark(ramp, T_MM, 1e-4, 1.2)
    assert mark is not None
    assert mark.place_mm == pytest.approx(0.1, abs=0.5 * PITCH_MM)


def test_uncertainty_grows_as_the_film_gets_thinner() -> None:
    marks = [find_mark(film * step(T_MM), T_MM, NOISE, 1.2) for film in (0.1, 0.05, 0.02, 0.01)]
    u = [m.u_mm for m in marks if m is not None]
    assert len(u) == 4
    assert u == sorted(u)
