"""Where on a mean profile across an edge the plate mark lies, and by what it was found.

Profiles run from bare paper (negative t) into the plate (positive t); density is above the bare paper just outside.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from proofkit.arrays import Floats
from proofkit.frame.legs import NOTHING, STEP, read_path
from proofkit.frame.sharp import SMALLEST_DENSITY, StepFilter, on_band, outweighs, sharp_step, step_filter
from proofkit.frame.smoothing import level_inside, smoothed
from proofkit.frame.types import EdgeKind
from proofkit.scan.compiling import kernel

SMALLEST_SHARE = 0.01
"""And so are those below this share of the strongest within reach: film 0.01 D beside a black rule is seen. [-]"""
LOOK_IN_MM = 1.2
"""The mark lies within this distance of the first departure from paper: an emboss shade tails off that far. [mm]"""
SMOOTHINGS_PX = (1.0, 2.0, 4.0)
"""Smoothing along t, as little as shows a departure. [px]"""
KINDS: tuple[EdgeKind, ...] = ("tone step", "bevel line", "emboss shade")
"""Words for the kinds of a `Found`, in their order."""


@dataclass(frozen=True, slots=True, eq=False)
class Mark:
    """A plate mark on a profile."""

    place_mm: float
    """Of the mark, positive toward the plate. [mm]"""
    kind: EdgeKind
    u_mm: float
    """From the noise of the profile alone. [mm]"""
    strength: float
    """Largest departure near the mark. [D]"""
    reach_mm: tuple[float, float]
    """How far bevel ink, shade or blur reach outside and inside the mark. [mm]"""
    inside: float
    """Level just inside. [D]"""


class ReadMark(NamedTuple):
    """The same in plain numbers; `kind` is `NOTHING` when there is none."""

    kind: int
    place_mm: float
    u_mm: float
    strength: float
    outward_mm: float
    inward_mm: float
    inside: float


def find_mark(profile: Floats, t_mm: Floats, noise: float, search_mm: float) -> Mark | None:
    """Return the first mark met when coming from the paper; None when the profile stays at paper level.

    Parameters
    ----------
    profile : (n,)
        Median over the side of density above the paper outside. [D]
    t_mm : (n,)
        Distance from the line that was followed, evenly spaced. [mm]
    noise : float
        Standard deviation of `profile` on bare paper. [D]
    search_mm : float
        The first departure is looked for from ``-search_mm`` to ``search_mm``. [mm]

    Notes
    -----
    Read like a path from the paper inward. A rise that stays up is a tone step: its half-way point is the mark. A
    rise that soon falls again is bevel ink when narrow: the middle between its half-height points is the mark. A
    wider dark band, and any band lighter than paper, is emboss shade: the mark is half-way along the edge toward the
    plate, which for a light and dark pair is its middle. Image that begins farther in is not reached.
    """
    return mark_of(read_mark(profile, t_mm, noise, search_mm, step_filter(float(t_mm[1] - t_mm[0]))))


def mark_of(read: ReadMark) -> Mark | None:
    """Return what was read as a `Mark`, None for nothing."""
    if read.kind == NOTHING:
        return None
    reach = (read.outward_mm, read.inward_mm)
    return Mark(read.place_mm, KINDS[read.kind], read.u_mm, read.strength, reach, read.inside)


@kernel
def read_mark(profile: Floats, t_mm: Floats, noise: float, search_mm: float, steps: StepFilter) -> ReadMark:
    """Return the mark on a profile as `find_mark` does."""
    none = ReadMark(NOTHING, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    pitch = t_mm[1] - t_mm[0]
    first, threshold, level_noise, smooth = _first_departure(profile, t_mm, noise, search_mm)
    if first < 0:
        return none
    last = min(smooth.size - 1, first + round(LOOK_IN_MM / pitch))
    found = read_path(smooth, first, last, pitch, threshold)
    sharp = sharp_step(profile, max(first, on_band(smooth, found)), last, noise, steps)
    if sharp.kind != NOTHING and outweighs(sharp, found, profile, smooth, (pitch, steps)):
        found = sharp
    place, kind, slope = found
    if kind == NOTHING or (kind == STEP and _is_ramp(smooth, place, pitch)):
        return none
    strength = threshold
    for k in range(first, min(smooth.size, round(place) + round(0.4 / pitch))):
        strength = max(strength, abs(smooth[k]))
    place_mm = t_mm[0] + place * pitch
    inside = level_inside(smooth, place, 0.3, 0.6, pitch)
    return ReadMark(
        kind,
        place_mm,
        level_noise / max(slope, 1e-9) * pitch,
        strength,
        max(place_mm - t_mm[first], 2 * pitch),
        _settles(smooth, round(place), inside, pitch),
        inside,
    )


@kernel
def _first_departure(
    profile: Floats, t_mm: Floats, noise: float, search_mm: float
) -> tuple[int, float, float, Floats]:
    """Return where a run of three departures begins, -1 for none, and by which threshold, noise and smoothing."""
    smooth, threshold, level_noise = profile, 0.0, noise
    for smoothing in SMOOTHINGS_PX:
        smooth = smoothed(profile, smoothing)
        # grain is as wide as the smoothing, so that it is averaged less than independent samples are
        level_noise = noise / np.sqrt(smoothing)
        strongest = 0.0
        for k in range(smooth.size):
            if abs(t_mm[k]) <= search_mm:
                strongest = max(strongest, abs(smooth[k]))
        threshold = max(5 * level_noise, SMALLEST_DENSITY, SMALLEST_SHARE * strongest)
        run = 0
        for k in range(smooth.size):
            run = run + 1 if abs(smooth[k]) > threshold and abs(t_mm[k]) <= search_mm else 0
            if run == 3:
                return k - 2, threshold, level_noise, smooth
    return -1, threshold, level_noise, smooth


@kernel
def _is_ramp(smooth: Floats, place: float, pitch: float) -> bool:
    """Tell whether the rise goes on after the edge as it came: film that fades out. Image would rise far more."""
    before = level_inside(smooth, place, -0.35, -0.15, pitch)
    near = level_inside(smooth, place, 0.15, 0.35, pitch)
    far = level_inside(smooth, place, 0.6, 1.0, pitch)
    step = near - before
    return 0.7 * step < far - near < 3.0 * step


@kernel
def _settles(smooth: Floats, index: int, inside: float, pitch: float) -> float:
    """Return how far inside the mark the profile has come to its level there, at most 1 mm."""
    last = min(smooth.size, index + round(1.0 / pitch))
    farthest = 0.0
    for k in range(index, last):
        farthest = max(farthest, abs(smooth[k] - inside))
    for k in range(index, last):
        if abs(smooth[k] - inside) <= 0.2 * farthest + 0.002:
            return (k - index) * pitch + pitch
    return max(last - index, 0) * pitch + pitch
