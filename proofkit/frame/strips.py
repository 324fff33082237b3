"""Strips across the sheet: where bare paper outside gives way to anything at all.

A plate mark can be a tone step of 0.01 D, a dark line of bevel ink, a light or dark band of embossing, or any mix.
Common to all is that bare, even paper lies outside. So the evidence looked for here is the *onset*: quiet paper on
one side, a departure from its level, lighter or darker, just inside.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from proofkit.arrays import FULL_SCALE, Floats, Picture, Plane
from proofkit.frame.kernels import block_means

ACROSS_MM = 0.1
"""Pitch of a strip profile: a bevel line of some 0.1 mm still stands out. [mm]"""
STRIP_MM = 2.5
"""Width of a strip: at 2 degrees of turn an edge smears over 0.09 mm within it, about one pitch. [mm]"""
QUIET_MM = (1.6, 0.3)
"""Reach of the band of bare paper looked at outside an edge. [mm]"""
JUST_INSIDE_MM = 0.4
"""How far inside an edge the first departure may lie. [mm]"""
LONG_INSIDE_MM = 1.5
"""Depth of film averaged for the faintest tone steps. [mm]"""
PAPER_TOLERANCE = 0.06
"""How far bare paper may lie from the rough paper level: lamp and paper together stay below this. [D]"""
MOST_STRIPS = 64
"""Strips that are stacked; more are joined first."""
DENSITY_CEILING = 1.0
"""Densities are cut off here, so that one black line cannot outweigh a strip. [D]"""


@dataclass(frozen=True, slots=True, eq=False)
class Strips:
    """Mean density along strips that run across one family of edges."""

    density: Picture
    """(strips, offsets) density above rough paper. [D]"""
    strip_px: int
    """Width of a strip along the edge. [px]"""
    across_px: int
    """Pitch of the offsets. [px]"""
    across_mm: float
    """The same. [mm]"""


def cut_strips(plane: Plane, rough_paper: float, px_per_mm: tuple[float, float]) -> tuple[Strips, Strips]:
    """Return strips for the horizontal and for the vertical edges.

    Parameters
    ----------
    plane : (h, w)
        Linear luminance. [1/65535]
    rough_paper : float
        Level of bare paper, scanner white = 1. [-]
    px_per_mm : (float, float)
        Resolution along x and along y. [px/mm]
    """
    per_x, per_y = px_per_mm
    wide_x, wide_y = (max(1, round(STRIP_MM * per)) for per in px_per_mm)
    thin_x, thin_y = (max(1, round(ACROSS_MM * per)) for per in px_per_mm)
    level = np.float32(rough_paper * FULL_SCALE)
    horizontal = _density(block_means(plane, thin_y, wide_x), level).T
    vertical = _density(block_means(plane, wide_y, thin_x), level)
    return (
        Strips(np.ascontiguousarray(horizontal), wide_x, thin_y, thin_y / per_y),
        Strips(np.ascontiguousarray(vertical), wide_y, thin_x, thin_x / per_x),
    )


def _density(means: Picture, level: np.float32) -> Picture:
    floor = np.float32(10.0**-DENSITY_CEILING)
    return np.asarray(-np.log10(np.maximum(means / level, floor)), dtype=np.float32)


def _window_mean(values: Picture, first: int, last: int) -> Picture:
    """Return the mean of the offsets ``n + first .. n + last`` at each n, edges held."""
    size = last - first + 1
    centred = ndimage.uniform_filter1d(values, size, axis=1, mode="nearest")
    shift = first + size // 2
    take = np.clip(np.arange(values.shape[1]) + shift, 0, values.shape[1] - 1)
    return np.asarray(centred[:, take])


def onset_evidence(strips: Strips) -> Picture:
    """Return how much each place looks like the outer rim of a plate, entered with growing offset.

    Returns
    -------
    Picture
        (strips, offsets) 0 to 1: departure just inside, in units of the paper's own unrest, times the quiet outside.
        A departure counts from 1.5 to 5 standard deviations.
    """
    density = strips.density
    pitch = strips.across_mm
    far, near = (max(1, round(mm / pitch)) for mm in QUIET_MM)
    inside = max(1, round(JUST_INSIDE_MM / pitch))
    long_inside = max(2, round(LONG_INSIDE_MM / pitch))
    outside = _window_mean(density, -far, -near)
    square = _window_mean(density * density, -far, -near)
    unrest = np.sqrt(np.maximum(square - outside * outside, 0.0))
    fit = np.abs(outside) < PAPER_TOLERANCE
    fit[:, :far] = False

    short = _departure(_window_mean(density, 0, 1) - outside, fit)
    short = ndimage.maximum_filter1d(short, inside, axis=1, origin=-(inside // 2), mode="nearest")
    # film seen over a longer way finds the faintest steps, but less sharply: it may only support
    long = 0.7 * _departure(_window_mean(density, 1, long_inside) - outside, fit)
    quiet = 1.0 - np.clip((unrest / _typical(unrest, fit) - 1.8) / 2.0, 0.0, 1.0)
    return np.asarray(np.maximum(short, long) * quiet * fit, dtype=np.float32)


def _typical(values: Picture, fit: np.ndarray) -> float:
    """Return a quantile over what may be paper: lower ones may be a smooth lid, higher ones engraved work."""
    chosen = values[fit]
    return (
        max(float(np.quantile(chosen[:: max(1, chosen.size // 50_000)], 0.35)), 1e-5) if chosen.size else 1.0
    )


def _departure(difference: Picture, fit: np.ndarray) -> Picture:
    """Return 0 to 1 for 1.5 to 5 standard deviations of the paper's own differences."""
    local = np.sqrt(
        np.maximum(ndimage.uniform_filter1d(difference * difference, 31, axis=1, mode="nearest"), 0.0)
    )
    return np.asarray(
        np.clip((np.abs(difference) / _typical(local, fit) - 1.5) / 3.5, 0.0, 1.0), dtype=np.float32
    )


def pooled(strips: Strips, evidence: Picture) -> tuple[Strips, Picture]:
    """Return evidence of a large sheet on strips twice as wide and offsets twice as far apart.

    Neighbouring strips are averaged, neighbouring offsets keep the larger: evidence is wider than that. Until at most
    `MOST_STRIPS` are left; sums along all slants cost the third power of this.
    """
    while evidence.shape[0] > MOST_STRIPS:
        n, m = evidence.shape[0] // 2, evidence.shape[1] // 2
        if strips.across_mm < 1.5 * ACROSS_MM:
            evidence = evidence[:, : 2 * m].reshape(-1, m, 2).max(axis=2)
            strips = replace(strips, across_px=2 * strips.across_px, across_mm=2 * strips.across_mm)
        evidence = evidence[: 2 * n].reshape(n, 2, -1).mean(axis=1)
        strips = replace(strips, strip_px=2 * strips.strip_px)
    return strips, np.ascontiguousarray(evidence)


def slopes_to_try(strips: Strips, count: int, turn_deg: float) -> Floats:
    """Return slants up to `turn_deg`, so close that the ends of a line over `count` strips move by one offset."""
    aspect = strips.strip_px / strips.across_px
    most = np.tan(np.deg2rad(turn_deg)) * aspect
    steps = int(np.ceil(most * max(2, count) / 2.0))
    return np.linspace(-most, most, 2 * steps + 1)
