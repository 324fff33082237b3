"""What a profile across a line says: load, width, depth, edges, ground."""

from dataclasses import dataclass, fields

import numpy as np
from scipy.special import ndtr

from proofkit.arrays import Floats, Index, Placed, placed_at, slots_of
from proofkit.lines.crossing_kernels import analyse_all
from proofkit.lines.profiles import Profiles
from proofkit.units import UM_PER_MM

GROUND_STRIP_MM = 0.04
"""Half length of the strip of ground that is averaged beside a line. [mm]"""

GROUND_STRIP_SHARE = 0.2
"""... and at most this share of a narrow gap, to each side of its middle. [-]"""

TEN_NINETY_SIGMAS = 2.563103
"""10-90 % distance of an edge blurred by a Gaussian, in its sigmas (identity: 2 x 1.2815516)."""


@dataclass(frozen=True, slots=True, eq=False)
class Spans:
    """Where on its profile each crossing has its line and its ground; from the standard. All (n,)."""

    width_mm: Floats
    """Width of the line."""
    left_mm: Floats
    """From the centreline to the middle of the gap on the negative side, or to clear ground."""
    right_mm: Floats
    gap_left_mm: Floats
    """Width of the white gap on the negative side, edge to edge; infinite for none."""
    gap_right_mm: Floats


@dataclass(frozen=True, slots=True, eq=False)
class CrossingValues:
    """What each profile says; all (n,), NaN where it cannot be had."""

    load_um: Floats
    """Integral of 1 - R/Rg across the line. [µm]"""
    width_um: Floats
    """Distance of the two half-depth points. [µm]"""
    depth: Floats
    """Greatest 1 - R/Rg. [-]"""
    core_reflectance: Floats
    """Least R/Rp in the line. [-]"""
    softness_um: Floats
    """Mean 10-90 % distance of the two edges. [µm]"""
    offset_mm: Floats
    """Centre of the line on the profile. [mm]"""
    left_edge_mm: Floats
    """Half-depth point on the negative side. [mm]"""
    right_edge_mm: Floats
    hollow: Floats
    """How much less ink the centre has than its two shoulders. [-]"""
    ground: Floats
    """R/Rp of the ground beside the line, corrected for what the lines' blur adds to narrow gaps. [-]"""
    gap_reflectance: Floats
    """R/Rp seen in the middle of the narrower gap, not corrected. [-]"""


def gap_leak(gap_mm: Floats, strip_mm: Floats, blur_mm: float) -> Floats:
    """Return what share of a line's depth the blur of both neighbours adds to the middle strip of a gap.

    The tail of a wide line at distance x from its edge is Phi(-x / sigma); the mean over the strip of half length
    h about the middle of the gap, from both sides, is by integration
    ``(I(g/2 + h) - I(g/2 - h)) / h`` with ``I(x) = x Phi(-x) - phi(x)`` in sigmas.
    """
    sigma = max(blur_mm, 1e-6)
    a = np.clip((gap_mm / 2 - strip_mm) / sigma, -2, 40)
    b = np.clip((gap_mm / 2 + strip_mm) / sigma, -2, 40)

    def integral(x: Floats) -> Floats:
        return np.asarray(x * ndtr(-x) - np.exp(-x * x / 2) / np.sqrt(2 * np.pi))

    return np.where(np.isfinite(gap_mm), 2 * (integral(b) - integral(a)) / np.maximum(b - a, 1e-9), 0.0)


def measure_crossings(profiles: Profiles, spans: Spans, blur_mm: float, reach_mm: Floats) -> CrossingValues:
    """Return what each profile says.

    Parameters
    ----------
    profiles : Profiles
        (n, m) reflectance against bare paper; a profile that holds NaN says nothing.
    spans : Spans
        Where line and ground are expected.
    blur_mm : float
        Standard deviation of the scan's blur, to correct the ground seen in narrow gaps. [mm]
    reach_mm : Floats
        (n,) how far from 0 the line may lie. [mm]

    Returns
    -------
    CrossingValues

    Notes
    -----
    Load is integrated in linear reflectance against the local ground, straight between the two strips of ground:
    the integral of a blurred line is that of the sharp one. In hatching the blur of both neighbours darkens the
    middle of a gap; the share is worked out from the gap's width (see `gap_leak`) and taken back, so that a
    narrow gap still gives the ground's true reflectance.
    """
    step = float(profiles.s_mm[1] - profiles.s_mm[0])
    values = np.ascontiguousarray(profiles.values, dtype=np.float64)
    return crossing_values(analyse_all(values, step, expectations(spans, blur_mm, reach_mm)))


def expectations(spans: Spans, blur_mm: float, reach_mm: Floats) -> Floats:
    """Return what the kernels need of each crossing, (n, 9) in the order of `crossing_kernels.EXPECTED`."""
    strips, leaks = [], []
    for gap in (spans.gap_left_mm, spans.gap_right_mm):
        strip = np.minimum(GROUND_STRIP_MM, GROUND_STRIP_SHARE * np.where(np.isfinite(gap), gap, 1.0))
        strips.append(strip)
        leaks.append(gap_leak(gap, strip, blur_mm))
    side = np.where(spans.gap_left_mm <= spans.gap_right_mm, -1.0, 1.0)
    return np.column_stack((spans.width_mm, spans.left_mm, spans.right_mm, *strips, *leaks, reach_mm, side))


def crossing_values(table: Floats) -> CrossingValues:
    """Return the values of crossings from what the kernels wrote, (n, 11) in the order of their `COLUMNS`."""
    load, width, depth, core, softness, offset, left, right, hollow, ground, gap = np.ascontiguousarray(
        table.T
    )
    return CrossingValues(
        load_um=load * UM_PER_MM,
        width_um=width * UM_PER_MM,
        depth=depth,
        core_reflectance=core,
        softness_um=softness * UM_PER_MM,
        offset_mm=offset,
        left_edge_mm=left,
        right_edge_mm=right,
        hollow=hollow,
        ground=ground,
        gap_reflectance=gap,
    )


@dataclass(frozen=True, slots=True, eq=False)
class PlacedValues:
    """What measures ask of the crossings of a sheet, at their places among all of the standard's; NaN where not read.

    All (n,); see `CrossingValues`. The other values would take as much memory again and are asked for by none.
    """

    load_um: Placed
    core_reflectance: Placed
    offset_mm: Placed
    hollow: Placed
    gap_reflectance: Placed


def placed_among(values: CrossingValues, index: Index, size: int) -> PlacedValues:
    """Return values of some crossings at their places among all `size` of them; the others are NaN."""
    slots = slots_of(index, size)
    return PlacedValues(
        **{field.name: placed_at(slots, getattr(values, field.name)) for field in fields(PlacedValues)}
    )
