"""How far a cell strays on good pulls: what it did on this edition, steadied by cells like it."""

import numpy as np

from proofkit.arrays import Floats, Picture

SMALL_SAMPLE = (1.196, 1.495, 1.363, 1.206, 1.200, 1.140, 1.129, 1.107)
"""Factors that make the scaled median absolute deviation of 2 to 9 normal values true on average; beyond, it is
n / (n - 0.8) (C. Croux and P. J. Rousseeuw, Time-efficient algorithms for two highly robust estimators of scale,
COMPSTAT 1992; from memory, a test draws them anew)."""

EFFICIENCY = 0.37
"""Of the median absolute deviation against the standard deviation, normal values: 100 sheets tell the spread as well
as 37 would (F. R. Hampel, The influence curve, J. Am. Stat. Assoc. 69 (1974) 383-393). [-]"""

KIN_FREEDOM = 8.0
"""Weight of cells alike, in degrees of freedom. [-]"""

MOST_KIN = 3.0
"""A cell is not believed to stray more than this many times as far as cells like it: a mark that half of the sheets
have would hide itself. [-]"""

LEAST_SPREAD = 0.004
"""Spread below which no cell is believed to repeat: step of the codes and grain of the paper. [ink, -]"""

INK_BINS = 12
SLOPE_BINS = 4
FEWEST_KIN = 60
"""Cells alike that are needed to tell their common spread."""


def small_sample_factor(count: int) -> float:
    """Return what the scaled median absolute deviation of `count` values has to be multiplied with."""
    if count < 2:
        return float("nan")
    return SMALL_SAMPLE[count - 2] if count - 2 < len(SMALL_SAMPLE) else count / (count - 0.8)


def steadied(spread: Picture, ink: Picture, slope: Picture, sheets: int) -> Picture:
    """Return the spread of each cell of a strip.

    Parameters
    ----------
    spread : Picture
        (rows, columns) scaled median absolute deviations over the sheets, NaN = unknown.
    ink, slope : Picture
        (rows, columns) of the median picture: cells of like ink and like slope are alike. [-, per cell]
    sheets : int

    Returns
    -------
    Picture
        (rows, columns), NaN where `spread` is.
    """
    own = spread * np.float32(small_sample_factor(sheets))
    kin = _kin_spread(own, ink, slope)
    freedom = EFFICIENCY * (sheets - 1)
    own = np.minimum(own, MOST_KIN * kin)
    variance = (freedom * own**2 + KIN_FREEDOM * kin**2) / (freedom + KIN_FREEDOM)
    return np.asarray(np.maximum(np.sqrt(variance), LEAST_SPREAD), dtype=np.float32)


def _kin_spread(own: Picture, ink: Picture, slope: Picture) -> Picture:
    """Return the root mean square spread of the cells alike, for each cell; marks are left out by a trim."""
    known = np.isfinite(own)
    result = np.full(own.shape, np.nan, dtype=np.float32)
    if not known.any():
        return result
    own = own[known]
    edges = np.quantile(slope[known], np.linspace(0, 1, SLOPE_BINS + 1)[1:-1])
    first = np.clip((ink[known] * INK_BINS).astype(np.int16), 0, INK_BINS - 1)
    bins = (first * SLOPE_BINS + np.searchsorted(edges, slope[known])).astype(np.int16)
    by_bin = own[np.argsort(bins, kind="stable")]
    typical = np.full(INK_BINS * SLOPE_BINS, _typical(own))
    ends = np.cumsum(np.bincount(bins, minlength=typical.size))
    for number, members in enumerate(np.split(by_bin, ends[:-1])):
        if len(members) >= FEWEST_KIN:
            typical[number] = _typical(members)
    result[known] = typical[bins]
    return result


def _typical(values: Floats | Picture) -> float:
    """Return the root mean square of the lower 95 % of values."""
    known = values[values <= np.quantile(values, 0.95)]
    return float(np.sqrt(np.mean(np.square(known, dtype=np.float64)))) if known.size else LEAST_SPREAD
