"""How dark lines are that are too narrow to show it one by one: told from many crossings of a region together."""

from typing import NamedTuple

import numpy as np

from proofkit.arrays import Floats, Index, Numbers
from proofkit.measures.uncertainty import depth_by_blur
from proofkit.scatter import robust_sd

CLASSES_PER_OCTAVE = 2
"""Lines of a region that differ in width by more than half an octave are told apart: shallow lines print paler."""

FEWEST = 30
"""Crossings that tell a depth together (common practice in sampling by hand)."""

ALIKE = 2.0
"""Crossings that follow each other on a line share part of what disturbs them: so many count as one."""

MIDDLE = (10, 90)
"""Fits between these percentiles count: specks and broken lines lie outside. [%]"""

DEPTH_SPREAD = 0.03
"""How far the depth of a line strays from that of lines like it (choice of ours). [-]"""

SLOPE_SPREAD = 0.05
"""How much paler lines may print on a plate for each e-fold in width: fine work is bitten and cut less deep (choice of
ours). [-]"""

U_PLACES = 0.005
"""How far a fitted depth is drawn by errors of the neighbours' places and widths, by the share that is held: ruled
patches of 2.7 px a line and more left 0.002, and half of their areas 1 % too small. [-]"""

LEAST_SAY = 0.06
"""Kinds that tell their depth no better than this lose their say, as what draws one of them draws all alike: a plate of
hatching under 2.8 px a line would else be told 10 to 30 % too pale. [-]"""

SHALLOWEST, DEEPEST = 0.2, 0.99
"""Bounds of a depth. [-]"""


class HeldDepths(NamedTuple):
    """What depth lines are held near, crossing by crossing."""

    depth: Floats
    """(n,) 1 - R/Rg. [-]"""
    u_depth: Floats
    """(n,) its standard uncertainty. [-]"""


class _Class(NamedTuple):
    """What the crossings of one kind of line say together."""

    log_width: float
    depth: float
    """What they would say if nothing held them. [-]"""
    variance: float
    """Of that. [-]"""


def kinds_of(region: Numbers, width_mm: Floats) -> Numbers:
    """Return the number of the kind of line of each crossing, by region (-1: none) and width. Shape (n,)."""
    octave = np.floor(CLASSES_PER_OCTAVE * np.log2(np.maximum(width_mm, 1e-3) / 1e-3)).astype(np.int32)
    return np.asarray(np.where(region < 0, -1, region * 64 + np.minimum(octave, 63)), dtype=np.int32)


def depths_together(
    depth: Floats,
    held: Floats,
    prior: float,
    kind: Numbers,
    width_mm: Floats,
    *,
    blur_mm: float,
    u_blur: float,
) -> HeldDepths:
    """Return near what depth the crossings of each kind of line lie.

    Parameters
    ----------
    depth, held : Floats
        (n,) fitted depths, and the share of what is known of them that comes from `prior`; NaN for crossings that have
        no say.
    prior : float
        Depth near which all of them were held: that of the sheet's broad lines. [-]
    kind : Numbers
        (n,) see `kinds_of`; those of kind -1 stay where they were held.
    width_mm : Floats
        (n,) width of the lines on the standard. [mm]
    blur_mm, u_blur : float
        Blur of the scan [mm], and its relative standard uncertainty.

    Notes
    -----
    A crossing moves from the prior m by ``(1 - h) (d - m)`` where d is what its own pixels say and h the share held
    (normal linear model). So the mean move of a kind over its mean ``1 - h`` is how far its lines print paler or
    darker. Fine lines are cut less deep and print paler (common practice): kinds lie about a straight course of depth
    over the logarithm of width, told from all kinds of the sheet, by `DEPTH_SPREAD`. Each kind is then taken between
    that course and its own word by their variances, so that kinds too narrow to speak follow the others.
    """
    result = np.full(len(depth), prior)
    u_result = np.full(len(depth), DEPTH_SPREAD)
    names, members = _members(depth, kind)
    classes = [_class(depth[at], held[at], prior, width_mm[at], blur_mm, u_blur) for at in members]
    if not classes:
        return HeldDepths(result, u_result)
    origin = float(np.log(4 * blur_mm))
    course, covariance = _course(classes, prior, origin)
    for name, told in zip(names, classes, strict=True):
        row = np.array([1.0, told.log_width - origin])
        expected, spread = row @ course, row @ covariance @ row + DEPTH_SPREAD**2
        share = spread / (spread + told.variance)
        result[kind == name] = np.clip(expected + share * (told.depth - expected), SHALLOWEST, DEEPEST)
        u_result[kind == name] = np.sqrt((1 - share) * spread)
    return HeldDepths(result, u_result)


def _members(depth: Floats, kind: Numbers) -> tuple[list[int], list[Index]]:
    """Return the kinds of which enough crossings are fitted, and those of each."""
    known = np.flatnonzero(np.isfinite(depth) & (kind >= 0))
    if not len(known):
        return [], []
    order = known[np.argsort(kind[known], kind="stable")]
    runs = np.split(order, np.flatnonzero(np.diff(kind[order])) + 1)
    told = [run for run in runs if len(run) >= FEWEST]
    return [int(kind[run[0]]) for run in told], told


def _class(
    depth: Floats, held: Floats, prior: float, width_mm: Floats, blur_mm: float, u_blur: float
) -> _Class:
    """Return what crossings of one kind say together."""
    moved = depth - prior
    low, high = np.percentile(moved, MIDDLE)
    middle = (moved >= low) & (moved <= high)
    own = max(1 - float(held[middle].mean()), 1e-3)
    width = float(np.median(width_mm))
    scatter = robust_sd(moved) / np.sqrt(len(moved) / ALIKE)
    by_places = U_PLACES * (1 - own)
    by_blur = prior * depth_by_blur(width, blur_mm) * u_blur
    variance = (scatter / own) ** 2 + (by_places / own) ** 2 + by_blur**2
    variance *= 1 + variance / LEAST_SAY**2
    return _Class(float(np.log(width)), prior + float(moved[middle].mean()) / own, variance)


def _course(classes: list[_Class], prior: float, origin: float) -> tuple[Floats, Floats]:
    """Return depth at the logarithm of width `origin` and its slope, (2,), and their covariance (2, 2).

    Weighted least squares with the broad lines' depth and no slope as what is expected beforehand.
    """
    precision = np.diag((DEPTH_SPREAD**-2, SLOPE_SPREAD**-2))
    right = precision @ np.array([prior, 0.0])
    for told in classes:
        row = np.array([1.0, told.log_width - origin])
        weight = 1 / (told.variance + DEPTH_SPREAD**2)
        precision += weight * np.outer(row, row)
        right += weight * told.depth * row
    covariance = np.linalg.inv(precision)
    return np.asarray(covariance @ right), np.asarray(covariance)
