"""Smooth random fields on the plate, evaluated at any point."""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Waves:
    """A sum of plane waves: zero mean, unit variance, one typical wavelength."""

    vectors: Array
    """(k, 2) wave vectors [rad/mm]."""
    phases: Array
    """(k,) [rad]."""


def random_waves(rng: np.random.Generator, wavelength_mm: float, count: int = 24) -> Waves:
    """Return waves of `wavelength_mm`, give or take a factor 1.4, in every direction."""
    turn = rng.uniform(0, 2 * np.pi, count)
    length = wavelength_mm * np.exp(rng.uniform(-0.35, 0.35, count))
    vectors = (2 * np.pi / length)[:, None] * np.stack((np.cos(turn), np.sin(turn)), axis=1)
    return Waves(vectors, rng.uniform(0, 2 * np.pi, count))


@numba.njit(cache=True)
def _sum_of_waves(points, vectors, phases):  # type: ignore[no-untyped-def]
    total = np.zeros(points.shape[0])
    for n in range(points.shape[0]):
        for k in range(phases.shape[0]):
            total[n] += np.cos(points[n, 0] * vectors[k, 0] + points[n, 1] * vectors[k, 1] + phases[k])
    return total


def value(waves: Waves, points_mm: Array) -> Array:
    """Return the field at (n, 2) points."""
    total = _sum_of_waves(np.ascontiguousarray(points_mm), waves.vectors, waves.phases)
    return np.asarray(total * np.sqrt(2.0 / len(waves.phases)))


def smoothed_noise(rng: np.random.Generator, count: int, length: float) -> Array:
    """Return `count` values of a Gaussian random course with unit variance and correlation over `length` steps."""
    reach = int(np.ceil(3 * length)) + 1
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / max(length, 0.3)) ** 2)
    kernel /= np.sqrt((kernel**2).sum())
    noise = rng.standard_normal(count + 2 * reach)
    return np.asarray(np.convolve(noise, kernel, mode="valid")[:count])
