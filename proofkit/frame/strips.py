"""Strips across the sheet: where bare paper outside gives way to anything at all.

A plate mark can be a tone step of 0.01 D, a dark line of bevel ink, a light or dark band of embossing, or any mix.
Common to all is that bare, even paper lies outside. So the evidence looked for here is the *onset*: quiet paper on
one side, a departure from its level, lighter or darker, just inside.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from proofkit.arrays import FULL_SCALE, Floats, Picture, Plane
from proofkit.frame.strip_kernels import departures, joined_evidence, strip_means
from proofkit.threads import each_in_order

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
LOCAL = 15
"""Half the window in which departures of paper are looked at together. [offsets]"""
MOST_TYPICAL = 20_000
"""So many places tell what is typical of a sheet."""
SHARES = 8
"""Parts of a sheet that are cut into strips by themselves."""
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
    thin_x, thin_y = (max(1, round(ACROSS_MM * per)) for per in px_per_mm)
    wide_x, wide_y = (max(1, round(STRIP_MM * per)) for per in px_per_mm)

    def part(rows: tuple[int, int]) -> tuple[Picture, Picture]:
        return strip_means(plane, *rows, (thin_y, thin_x), (wide_y, wide_x))

    flat, upright = zip(*each_in_order(part, _shares(plane.shape[0] // wide_y)), strict=True)
    level = np.float32(rough_paper * FULL_SCALE)
    return (
        Strips(np.ascontiguousarray(_density(np.concatenate(flat), level).T), wide_x, thin_y, thin_y / per_y),
        Strips(_density(np.concatenate(upright), level), wide_y, thin_x, thin_x / per_x),
    )


def _shares(count: int) -> list[tuple[int, int]]:
    """Return rows of strips in shares for several threads: first and behind the last of each."""
    shares = max(1, min(SHARES, count))
    return list(pairwise(count * k // shares for k in range(shares + 1)))


def _density(means: Picture, level: np.float32) -> Picture:
    floor = np.float32(10.0**-DENSITY_CEILING)
    return np.asarray(-np.log10(np.maximum(means / level, floor)), dtype=np.float32)


def onset_evidence(strips: Strips) -> tuple[Strips, Picture]:
    """Return how much each place looks like the outer rim of a plate, entered with growing offset.

    Returns
    -------
    Strips
        With the widths of what was joined: of a large sheet strips and offsets are, until at most `MOST_STRIPS` are
        left, as sums along all slants cost the third power of this.
    Picture
        (strips, offsets) 0 to 1: departure just inside, in units of the paper's own unrest, times the quiet outside.
    """
    density, pitch = strips.density, strips.across_mm
    far, near = (max(1, round(mm / pitch)) for mm in QUIET_MM)
    long_inside = max(2, round(LONG_INSIDE_MM / pitch))
    some = max(1, density.size // MOST_TYPICAL)
    short, long, unrest, seen = departures(density, (far, near, long_inside), LOCAL, PAPER_TOLERANCE, some)
    join = 1
    while len(density) // join > MOST_STRIPS:
        join *= 2
    fine = 2 if join > 1 and pitch < 1.5 * ACROSS_MM else 1
    inside = max(1, round(JUST_INSIDE_MM / pitch))
    evidence = joined_evidence(short, long, unrest, _typical(seen), inside, (join, fine))
    wider = replace(
        strips, strip_px=join * strips.strip_px, across_px=fine * strips.across_px, across_mm=fine * pitch
    )
    return wider, evidence


def _typical(seen: Picture) -> tuple[float, float, float]:
    """Return a quantile over what may be paper: lower ones may be a smooth lid, higher ones engraved work."""
    if not len(seen):
        return 1.0, 1.0, 1.0
    unrest, short, long = np.maximum(np.quantile(seen, 0.35, axis=0), 1e-5).tolist()
    return unrest, short, long


def slopes_to_try(strips: Strips, count: int, turn_deg: float) -> Floats:
    """Return slants up to `turn_deg`, so close that the ends of a line over `count` strips move by one offset."""
    aspect = strips.strip_px / strips.across_px
    most = np.tan(np.deg2rad(turn_deg)) * aspect
    steps = int(np.ceil(most * max(2, count) / 2.0))
    return np.linspace(-most, most, 2 * steps + 1)
