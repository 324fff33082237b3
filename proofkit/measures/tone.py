"""Tone of a region: how its reflectance is distributed, and how that differs from the standard."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats, Picture
from proofkit.edition import HISTOGRAM_BINS, HISTOGRAM_START_DENSITY, HISTOGRAM_STEP_DENSITY
from proofkit.measures.cell_kernels import density_counts, lightness_moments
from proofkit.reflectance.colour import lightness
from proofkit.units import density, reflectance

Counts = npt.NDArray[np.int64]

PERCENTILES = (5, 25, 50, 75, 95)

GAIN_SPREAD = 0.02
"""Cells of the standard that differ by less than this (s.d.) have no gain: how hatching falls into cells of 1 mm
makes 0.01 D alone, and a slope through that came out at -0.65 on a sheet that differed only in its film. [D]"""

FAINTEST = 1e-3
"""Reflectance below which density is not told apart: D = 3, darker than any ink on paper. [-]"""


EDGES: Floats = reflectance(HISTOGRAM_START_DENSITY + HISTOGRAM_STEP_DENSITY * np.arange(HISTOGRAM_BINS))
"""Reflectance at the lighter edge of each bin of the histogram. [-]"""

STEPS_PER_UNIT = 1024.0
"""Steps of reflectance in which the bin is looked up; up to bare paper a bin is as wide or wider down to D = 1.3."""

FIRST_BINS = np.maximum(
    np.searchsorted(-EDGES, -(np.arange(1, 2 * int(STEPS_PER_UNIT)) / STEPS_PER_UNIT), side="right") - 1, 0
)
"""Bin of the lightest value of each step."""

LIGHT_NODES_PER_UNIT = 8192.0
"""Between so many nodes to bare paper lightness is taken as straight: 0.0002 L* off at R = 0.01, less elsewhere."""

LIGHT_NODES: Floats = lightness(np.arange(1.5 * LIGHT_NODES_PER_UNIT) / LIGHT_NODES_PER_UNIT)


def tone_histogram(values: Picture) -> Counts:
    """Return the histogram of density of reflectances (n,) against bare paper; bins as `edition.py` says."""
    return np.asarray(density_counts(values, EDGES, FIRST_BINS, STEPS_PER_UNIT))


class ToneSlopes(NamedTuple):
    """By how much means of a region move when all of its light does."""

    light_by_curve: float
    """Change of mean R/Rp for a relative change of all densities. [-]"""
    lightness_by_curve: float
    """... of mean lightness. [L*]"""
    lightness_by_paper: float
    """Change of mean lightness for a relative change of all R/Rp. [L*]"""


def tone_slopes(counts: Counts) -> ToneSlopes:
    """Return how the means of a region hang on curve and paper, from the histogram of its density.

    A relative change e of densities makes R ** (1 + e) of R, which is ``R ln R e`` more: of ink beside bare ground
    about half of what an even tone of the same mean would move by. Lightness changes by ``116 / 3 R ** (1 / 3)`` for a
    relative change of R (CIE 15:2004, 8.2.1.1).
    """
    middles = HISTOGRAM_START_DENSITY + HISTOGRAM_STEP_DENSITY * (np.arange(len(counts)) + 0.5)
    light = reflectance(middles)
    log, root = np.log(light), 116 / 3 * np.cbrt(light)
    total = max(float(counts.sum()), 1.0)
    return ToneSlopes(*(float(counts @ slope) / total for slope in (light * log, root * log, root)))


def percentile(counts: Counts, percent: float) -> float:
    """Return a percentile of a density histogram, linear within its bin. [D]"""
    total = counts.sum()
    if total == 0:
        return float("nan")
    cumulative = np.concatenate(([0], np.cumsum(counts)))
    edges = HISTOGRAM_START_DENSITY + HISTOGRAM_STEP_DENSITY * np.arange(len(counts) + 1)
    return float(np.interp(percent / 100 * total, cumulative, edges))


def histogram_distance(one: Counts, other: Counts) -> float:
    """Return the Wasserstein-1 distance of two density histograms with the same bins. [D]

    Notes
    -----
    In one dimension it is the area between the two cumulative distributions (Vallender 1974); it carries the unit
    of the axis. Equal to `scipy.stats.wasserstein_distance` on the bin centres.
    """
    if one.sum() == 0 or other.sum() == 0:
        return float("nan")
    difference = np.cumsum(one / one.sum()) - np.cumsum(other / other.sum())
    return float(np.abs(difference[:-1]).sum() * HISTOGRAM_STEP_DENSITY)


def tone_measures(values: Picture, mean: float, standard: Counts) -> tuple[dict[str, float], Counts]:
    """Return the tone measures of a region's pixels, and its histogram.

    Parameters
    ----------
    values : (n,) float32
        R/Rp of the region's pixels. [-]
    mean : float
        Mean of R/Rp over the region, see `region_cells`. [-]
    standard : Counts
        Histogram of the same region on the standard.
    """
    counts = tone_histogram(values)
    if not len(values):
        return {}, counts
    light = lightness_moments(values, LIGHT_NODES, LIGHT_NODES_PER_UNIT)
    row = {f"density_p{p:02d}": percentile(counts, p) for p in PERCENTILES}
    row["tone_fraction"] = 1 - mean
    row["lightness_mean"], row["lightness_sd"] = (float(value) for value in light)
    row["tone_distance_density"] = histogram_distance(counts, standard)
    return row, counts


def coarse_measures(sheet: Picture, standard: Picture) -> dict[str, float]:
    """Return slope and scatter of a region's coarse density picture against the standard's.

    Parameters
    ----------
    sheet, standard : Picture
        (rows, columns) R/Rp of the same coarse cells; NaN outside the region.
    """
    known = np.isfinite(sheet) & np.isfinite(standard)
    if known.sum() < 20:
        return {}
    x: Floats = density(np.maximum(standard[known], FAINTEST))
    y: Floats = density(np.maximum(sheet[known], FAINTEST))
    spread = float(np.var(x))
    if spread < GAIN_SPREAD**2:
        return {"mottle_density": float(np.std(y - x))}
    slope = float(np.mean((x - x.mean()) * (y - y.mean())) / spread)
    rest = y - y.mean() - slope * (x - x.mean())
    return {"tone_gain": slope, "mottle_density": float(np.std(rest))}
