"""Lay a line through pieces of an edge: how far each lies off the others, and the robust course of that."""

import numpy as np
from scipy import ndimage

from proofkit.arrays import Floats
from proofkit.frame.candidates import Line
from proofkit.frame.matching_kernels import (
    costs_of_shifts,
    own_length,
    projected,
    robust,
    steepnesses,
    weights_about,
)
from proofkit.frame.medians import median
from proofkit.frame.pieces import Pieces
from proofkit.frame.profile import Mark

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
CUT_APART = 0.1
"""Nor does a difference from the median profile, where shifts are tried. [D]"""
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


def matched(pieces: Pieces, middle: Floats, mark: Mark, across: float) -> Floats:
    """Return how far each piece lies inward of the median profile, by trying shifts. [px]

    Squared differences are summed over neighbouring pieces, as a wave is longer than these; a parabola through the
    lowest sum and its neighbours gives parts of a pixel.
    """
    most = round(WAVE_MM * across)
    weight = weights_about(pieces.density, middle, pieces.t_mm - mark.place_mm, 0.8, WINDOW_MM)
    cost = costs_of_shifts(pieces.density, middle, weight, most, CUT_APART)
    cost = ndimage.uniform_filter1d(cost, min(NEIGHBOURS, len(cost)), axis=0, mode="nearest")
    low = np.clip(cost.argmin(axis=1), 1, 2 * most - 1)
    before, here, after = (np.take_along_axis(cost, (low + k)[:, None], axis=1)[:, 0] for k in (-1, 0, 1))
    bend = np.maximum(before - 2 * here + after, 1e-12)
    return np.asarray(low - most + np.clip(0.5 * (before - after) / bend, -1, 1))


def shifts_of(pieces: Pieces, middle: Floats, mark: Mark) -> tuple[Floats, float]:
    """Return how far each piece lies inward of the median profile, and the standard error of one of them. [px]

    One step of Gauss and Newton: the difference from the median profile projected on its slope. The error is that of
    samples which are independent.
    """
    near_mm = pieces.t_mm - mark.place_mm
    weight = weights_about(pieces.density, middle, near_mm, WINDOW_MM, 0.7 * WINDOW_MM)
    return projected(pieces.density, middle, weight)


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
        error = scatter / own_length(design)
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
