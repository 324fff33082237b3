"""Tone of a region: how its reflectance is distributed, and how that differs from the standard."""

from typing import NamedTuple

import numpy as np

from proofkit.arrays import Floats, Picture
from proofkit.edition import HISTOGRAM_BINS, HISTOGRAM_START_DENSITY, HISTOGRAM_STEP_DENSITY
from proofkit.measures.region_cells import Counts, Tally
from proofkit.measures.statistics import percentiles
from proofkit.reflectance.colour import lightness
from proofkit.units import density, reflectance

PERCENTILES = {"density_p05": 5, "density_p25": 25, "density_p50": 50, "density_p75": 75, "density_p95": 95}
"""Column -> percentile of density. [%]"""

GAIN_SPREAD = 0.02
"""Cells of the standard that differ by less than this (s.d.) have no gain: how hatching falls into cells of 1 mm
makes 0.01 D alone, and a slope through that came out at -0.65 on a sheet that differed only in its film. [D]"""

FAINTEST = 1e-3
"""Reflectance below which density is not told apart: D = 3, darker than any ink on paper. [-]"""


EDGES: Floats = reflectance(HISTOGRAM_START_DENSITY + HISTOGRAM_STEP_DENSITY * np.arange(HISTOGRAM_BINS))
"""Reflectance at the lighter edge of each bin of the histogram. [-]"""


def tone_histogram(tally: Tally) -> Counts:
    """Return the histogram of density of a region's cells against bare paper; bins as `edition.py` says.

    What is lighter than the first bin, or darker than all, is counted in the first or the last.
    """
    values, counts = tally.seen()
    here = np.clip(len(EDGES) - np.searchsorted(EDGES[::-1], values, side="left") - 1, 0, None)
    return np.bincount(here, counts, HISTOGRAM_BINS).astype(np.int64)


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


def tone_measures(tally: Tally, mean: float, standard: Counts) -> tuple[dict[str, float], Counts]:
    """Return the tone measures of a region's cells, and its histogram.

    Parameters
    ----------
    tally : Tally
        Of the region's cells.
    mean : float
        Mean of R/Rp over the region, see `mean_inside`. [-]
    standard : Counts
        Histogram of the same region on the standard.
    """
    histogram = tone_histogram(tally)
    values, counts = tally.seen()
    if not len(values):
        return {}, histogram
    light = lightness(values)
    middle = float(np.average(light, weights=counts))
    # The lightest cells are the least dense.
    darkness = density(np.maximum(percentiles(tally, [100 - p for p in PERCENTILES.values()]), FAINTEST))
    row = dict(zip(PERCENTILES, darkness.tolist(), strict=True))
    row["tone_fraction"] = 1 - mean
    row["lightness_mean"] = middle
    row["lightness_sd"] = float(np.sqrt(np.average((light - middle) ** 2, weights=counts)))
    row["tone_distance_density"] = histogram_distance(histogram, standard)
    return row, histogram


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
