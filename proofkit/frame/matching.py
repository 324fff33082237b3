"""Lay a line through pieces of an edge: how far each lies off the others, and the robust course of that."""

import numpy as np
from scipy import ndimage

from proofkit.arrays import Floats
from proofkit.frame.candidates import Line
from proofkit.frame.matching_kernels import robust, steepnesses
from proofkit.frame.medians import median, median_profile
from proofkit.frame.pieces import Pieces
from proofkit.frame.profile import Mark
from proofkit.scatter import OF_MEDIAN

WINDOW_MM = 0.4
"""Half the width about the mark that decides where a piece of it lies. [mm]"""
WAVE_ORDER = 6
"""Degree of the polynomial that follows a wavy edge: bends of a fifth of its length. [-]"""
WAVE_MM = 0.4
"""Uneven stretch moves parts of an edge by less than this. [mm]"""
NEIGHBOURS = 5
"""Pieces that are matched together."""
BOW_MM = 0.3
"""A sheet bows an edge by no more than this. [mm]"""
MOST_MM = 1.2
"""No piece lies farther off its line. [mm]"""
CUT_DENSITY = 0.15
"""Where pieces are compared by their mean, none counts for more than this. [D]"""
ROBUST_TURNS = 10
"""Rounds of reweighting: the scatter has then settled."""


def turn(line: Line, pieces: Pieces, inward: int, most_px: float) -> Line:
    """Return the line turned so that the pieces agree best.

    When all pieces, moved along as the turned line says, agree, their mean profile is steepest.
    """
    reach = float(np.abs(pieces.centres_px - line.middle).max())
    lever = (pieces.centres_px - line.middle) / reach
    slants = np.linspace(-most_px, most_px, 2 * round(most_px) + 1)
    best = slants[steepnesses(pieces.density, lever, slants, CUT_DENSITY).argmax()]
    return Line(line.middle, line.place, line.slope + inward * float(best) / reach, line.bend)


def _weights(pieces: Pieces, middle: Floats, mark: Mark, outside_mm: float, inside_mm: float) -> Floats:
    """Return the weight of each sample about the mark: inverse square of its scatter over the pieces.

    So image inside the window counts little.
    """
    scatter = OF_MEDIAN * median_profile(np.abs(pieces.density - middle))
    d = pieces.t_mm - mark.place_mm
    inside = (d > -outside_mm) & (d < inside_mm)
    return np.asarray(inside / np.maximum(scatter, 0.5 * median(scatter) + 1e-6) ** 2)


def matched(pieces: Pieces, middle: Floats, mark: Mark, across: float) -> Floats:
    """Return how far each piece lies inward of the median profile, by trying shifts. [px]

    Squared differences are summed over neighbouring pieces, as a wave is longer than these; a parabola through the
    lowest sum and its neighbours gives parts of a pixel.
    """
    weight = _weights(pieces, middle, mark, 0.8, WINDOW_MM)
    most = round(WAVE_MM * across)
    used = np.flatnonzero(weight)
    used = used[(used >= most) & (used < len(middle) - most)]
    cost = np.stack(
        [
            ((np.clip(pieces.density[:, used + s] - middle[used], -0.1, 0.1)) ** 2) @ weight[used]
            for s in range(-most, most + 1)
        ],
        axis=1,
    )
    cost = ndimage.uniform_filter1d(cost, min(NEIGHBOURS, len(cost)), axis=0, mode="nearest")
    low = np.clip(cost.argmin(axis=1), 1, 2 * most - 1)
    before, here, after = (np.take_along_axis(cost, (low + k)[:, None], axis=1)[:, 0] for k in (-1, 0, 1))
    bend = np.maximum(before - 2 * here + after, 1e-12)
    return np.asarray(low - most + np.clip(0.5 * (before - after) / bend, -1, 1))


def shifts_of(pieces: Pieces, middle: Floats, mark: Mark) -> Floats:
    """Return how far each piece lies inward of the median profile. [px]

    One step of Gauss and Newton: the difference from the median profile projected on its slope.
    """
    slope, weight, power = _slope(pieces, middle, mark)
    return np.asarray(-((pieces.density - middle) @ (weight * slope)) / power)


def error_px(pieces: Pieces, middle: Floats, mark: Mark) -> float:
    """Return the standard error of the place of one piece, if its samples were independent. [px]"""
    return float(1.0 / np.sqrt(_slope(pieces, middle, mark)[2]))


def _slope(pieces: Pieces, middle: Floats, mark: Mark) -> tuple[Floats, Floats, float]:
    """Return the slope of the median profile, the samples' weights, and their sum of slope squared."""
    slope = np.gradient(np.convolve(middle, [0.25, 0.5, 0.25], mode="same"))
    weight = _weights(pieces, middle, mark, WINDOW_MM, 0.7 * WINDOW_MM)
    return slope, weight, max(float((weight * slope**2).sum()), 1e-12)


def wave_of(d: Floats, shifts: Floats) -> Floats:
    """Return the smooth part of the shifts along the edge, their median taken off. [px]"""
    design = np.polynomial.chebyshev.chebvander(d / np.abs(d).max(), WAVE_ORDER)
    coefficients, _ = robust(np.ascontiguousarray(design), shifts, ROBUST_TURNS)
    wave = np.polynomial.chebyshev.chebval(d / np.abs(d).max(), coefficients)
    return np.asarray(wave - median(wave))


def course(u: Floats, values: Floats, order: int) -> tuple[Floats, float]:
    """Return constant, slope and bend over u, -1 to 1, and the scatter; no bend below 3 of its standard errors."""
    result = np.zeros(3)
    for terms in range(order + 1, 1, -1):
        design = np.vander(u, terms, increasing=True)
        coefficients, scatter = robust(np.ascontiguousarray(design), values, ROBUST_TURNS)
        error = scatter * float(np.sqrt(np.linalg.pinv(design.T @ design)[-1, -1]))
        if terms == 2 or abs(coefficients[-1]) > 3 * error:
            result[:terms] = coefficients
            break
    return result, scatter


def fit(d: Floats, shifts: Floats, order: int, across: float) -> tuple[Floats, float]:
    """Return constant, slope and bend of the shifts along the edge, and their scatter about that. [px]

    The mean over the pieces is taken off: the median profile is where the pieces are on average.
    """
    reach = float(np.abs(d).max())
    most = MOST_MM * across
    move, scatter = course(d / reach, np.clip(shifts, -most, most), order)
    move[2] = np.clip(move[2], -BOW_MM * across, BOW_MM * across)
    move[0] -= float(np.vander(d / reach, 3, increasing=True).mean(axis=0) @ move)
    return move / reach ** np.arange(3), scatter
