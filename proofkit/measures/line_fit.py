"""Lines and their neighbours fitted through the blur of the scan: width, depth and ground of every crossing."""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Mask, Numbers, Placed, placed_at, slots_of
from proofkit.laying.standard_lines import StandardLines
from proofkit.measures.broad_lines import BroadLines, fit_broad
from proofkit.measures.fit_places import fit_places, part_of
from proofkit.measures.line_depths import depths_together, kinds_of
from proofkit.measures.line_model import (
    CENTRE,
    DEPTH,
    GROUND,
    GROUND_BY_DEPTH,
    HELD,
    HELD_DEPTH,
    WIDTH,
    WIDTH_BY_DEPTH,
    beside_on,
    fit_at,
    start_of,
)  # fmt: skip
from proofkit.measures.types import LaidSheet, RegionRecord

FAR_DEPTH = 0.05
"""Lines that print so much paler or darker than the sheet's broad ones are fitted anew: what a fit leans by is told for
small steps. [-]"""

MOST_LEAN = 0.3
"""Widths lean by no more than this share: about what a depth off by a third means. [-]"""

APART_SIGMAS = 1.5
"""Crossings nearer than this to a line that crosses have no say in how dark lines are together. [blur sigmas]"""


@dataclass(frozen=True, slots=True, eq=False)
class LineFits:
    """What the fits say of each crossing of the standard's lines; (n,), NaN where a crossing cannot be fitted."""

    ground: Placed
    """R/Rp of the ground beside the line, the lines' own blur taken off. [-]"""
    offset_mm: Placed
    """Centre of the line from where the laying expects it. [mm]"""
    width_um: Placed
    """Width of the line before blur. [µm]"""
    depth: Placed
    """1 - R/Rg of the line before blur. [-]"""
    held: Placed
    """Share of what is known of the depth that comes from other lines, not from this line itself. [-]"""
    u_depth: Placed
    """Standard uncertainty of the depth near which it is held. [-]"""
    chosen: Mask
    """The crossing was to be fitted."""
    hatched: Mask
    """The line has a neighbour so near that their blurs overlap."""
    broad: BroadLines
    """What the broad lines said beforehand."""

    @property
    def load_um(self) -> Placed:
        """Width times depth. [µm]"""
        return Placed(self.width_um.values * self.depth.values, self.depth.slots)


def drypoint_lines(records: tuple[RegionRecord, ...], lines: StandardLines) -> Mask:
    """Return which points lie in regions of drypoint."""
    found = np.zeros(lines.lines.size, dtype=np.bool_)
    for record in records:
        if record.region.work == "drypoint":
            found[record.points] = True
    return found


def region_numbers(records: tuple[RegionRecord, ...], lines: StandardLines) -> Numbers:
    """Return the number of the region of each point; -1 outside all, and in drypoint, whose burr is no bar."""
    found = np.full(lines.lines.size, -1, dtype=np.int32)
    for number, record in enumerate(records):
        if record.region.work != "drypoint":
            found[record.points] = number
    return found


def fit_sheet(
    sheet: LaidSheet, lines: StandardLines, chosen: Mask, drypoint: Mask, region: Numbers
) -> LineFits:
    """Return the fits of crossings of a sheet.

    Parameters
    ----------
    sheet : LaidSheet
    lines : StandardLines
    chosen : Mask
        (n,) crossings to fit.
    drypoint : Mask
        (n,) lines whose burr prints a skirt: they are fitted against the skirt close by.
    region : Numbers
        (n,) number of the region whose lines print alike, see `region_numbers`.

    Notes
    -----
    The reflectance across a line is modelled as ``G (1 - d B)``: ground G, depth d, and B the sum of the line's bar and
    of its neighbours' bars, blurred. Neighbours keep the standard's distances and relative widths. Pixels enter as they
    are, at their own distance from the line: interpolated profiles lose 3 % of the contrast of five pixel hatching.

    First the blur is fitted on lines at least four blur sigmas wide, together with all else; its median then serves all
    lines. Depth is held by a prior of `DEPTH_SPREAD`, since a line of about the blur's width shows only the product of
    width and depth: first near that of the broad lines, then near what all lines of its kind say together. Fine lines
    taken for as dark as broad ones are read too narrow, and the ground between them 0.001 to 0.008 D too dark.
    """
    broad = fit_broad(sheet, lines, drypoint)
    used = np.flatnonzero(chosen)
    places = fit_places(sheet, lines, used, broad.blur_mm, drypoint)
    start = start_of(lines, used, places, broad.blur_mm, broad.depth)
    strays = HELD_DEPTH + beside_on(sheet, broad.blur_mm)
    found = fit_at(sheet, places, start, strays)
    width_mm = lines.spans.width_mm[used]
    kind = kinds_of(region[used], width_mm)
    apart = lines.apart_mm[used] > APART_SIGMAS * broad.blur_mm
    near = depths_together(
        np.where(apart, found[:, DEPTH], np.nan),
        found[:, HELD],
        broad.depth,
        kind,
        width_mm,
        blur_mm=broad.blur_mm,
        u_blur=broad.u_blur,
    )
    far = np.flatnonzero(np.abs(near.depth - broad.depth) > FAR_DEPTH)
    _lean(found, near.depth - broad.depth)
    if len(far):
        start[far, DEPTH] = near.depth[far]
        found[far] = fit_at(sheet, part_of(places, far), start[far], strays)

    slots = slots_of(used, lines.lines.size)

    def placed(values: Floats) -> Placed:
        return placed_at(slots, values)

    return LineFits(
        ground=placed(found[:, GROUND]),
        offset_mm=placed(found[:, CENTRE]),
        width_um=placed(found[:, WIDTH] * 1000),
        depth=placed(found[:, DEPTH]),
        held=placed(found[:, HELD]),
        u_depth=placed(near.u_depth),
        chosen=chosen,
        hatched=np.isfinite(lines.spans.gap_left_mm) | np.isfinite(lines.spans.gap_right_mm),
        broad=broad,
    )


def _lean(found: Floats, shift: Floats) -> None:
    """Move fits, (n, columns), to what they say where depths are held by `shift` (n,) more, in place."""
    found[:, DEPTH] += found[:, HELD] * shift
    found[:, GROUND] += found[:, GROUND_BY_DEPTH] * shift
    # Where next to nothing prints the width is at its bound and leans without limit.
    found[:, WIDTH] *= np.exp(
        np.clip(found[:, WIDTH_BY_DEPTH] / found[:, WIDTH] * shift, -MOST_LEAN, MOST_LEAN)
    )
