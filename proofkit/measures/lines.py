"""Line work of a region: the standard's lines, each read at its own place on this sheet."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from proofkit.arrays import Floats, Mask, Numbers
from proofkit.laying.standard_lines import StandardLines, smooth_along
from proofkit.lines.crossings import CrossingValues, gap_leak
from proofkit.measures.film_cells import Gaps
from proofkit.measures.line_fit import LineFits
from proofkit.measures.line_neighbours import neighbour_distances
from proofkit.measures.tone import FAINTEST
from proofkit.measures.types import RegionRecord
from proofkit.measures.uncertainty import (
    MEDIAN_FACTOR,
    ROBUST,
    U_SCALE,
    HatchSensitivity,
    combined,
    hatch_sensitivity,
    u_median,
    u_share,
    u_spread,
)
from proofkit.quality import Quality
from proofkit.units import density

CROSSINGS_MIN = 30
"""Fewer crossings make a median doubtful (common practice in sampling by hand). """

WIDE_PX = 2.0
WIDE_SIGMAS = 3.0
"""Width and core are given for lines of at least 2 px and 3 blur sigmas. Below that width and depth trade places: an
error of 1 % of the blur is one of 1.3 % of the width at 3 sigmas, 3 % at 2 (from the second moment of the profile)."""

HOLLOW_SIGMAS = 6.0
"""A pale centre can be trusted from this many blur sigmas of width on: both edges' tails leave 0.3 % there."""

SAME_DIRECTION_DEG = 15.0
"""Lines within this angle of each other are one ruling. [deg]"""

SECOND_SHARE = 0.25
"""A second direction with this share of the first's length makes cross-hatching (choice of ours). [-]"""

LEAST_PERIOD_PX = 2.2
"""Hatching closer than this is not resolved: two pixels a period is what sampling allows at the least. [px]"""

PRINTED_SHARE = 0.35
"""A crossing prints when it carries this share of the standard's load there (choice of ours). [-]"""

GROUND_APART_SIGMAS = 2.5
"""Gaps are read when they are this many blur sigmas wide."""

MIDWAY_PERCENT = 70
"""Of the gaps of cross-hatching, the third farthest from the lines that cross are read. [%]"""

MIDDLE_PERCENT = 95
"""A crossing farther from the lines that cross than so many others lies midway between them. [%]"""


@dataclass(frozen=True, slots=True, eq=False)
class LineWork:
    """The line work of a region on one sheet; arrays run over the standard's points in it."""

    lines: StandardLines
    values: CrossingValues
    """All crossings, profile by profile."""
    fits: LineFits
    """All crossings, fitted through the blur."""
    px_mm: float
    """Side of a pixel of this scan. [plate mm]"""
    half_along_mm: Floats
    """How far to both sides along its line each crossing took its pixels from. [mm]"""


def crossing_loads(record: RegionRecord, work: LineWork) -> Floats:
    """Return the load of each crossing of a region, NaN where it cannot be had. [µm]

    Where a line stands alone its load is the integral of its profile, which no blur and no shape of the line changes.
    In hatching the ground itself is blurred away, so width times depth of the fitted line is taken. Drypoint's burr is
    no bar: there it is the integral again.
    """
    points = record.points
    integral = work.values.load_um[points]
    if record.region.work == "drypoint":
        return np.maximum(integral, 0)
    resolved = work.lines.spacing_mm[points] > LEAST_PERIOD_PX * work.px_mm
    fitted = np.where(resolved, work.fits.load_um[points], np.nan)
    return np.maximum(np.where(work.fits.hatched[points], fitted, integral), 0)


def line_measures(record: RegionRecord, work: LineWork) -> tuple[dict[str, float], Quality]:
    """Return the line measures of a region.

    Parameters
    ----------
    record : RegionRecord
        The region, with the standard's points in it.
    work : LineWork
        Its lines as this sheet shows them.

    Returns
    -------
    dict
        Columns of `measurements`, with ``u_`` where it is known.
    Quality

    Notes
    -----
    Loads are medians over the clear crossings, missing ones counted with what they have. Their ``u_`` is the sampling
    part (`u_median`); `with_calibration` adds the rest.
    """
    if not len(record.points):
        return {}, Quality.NO_LINES
    lines, points = work.lines, record.points
    load = crossing_loads(record, work)
    ok = lines.clear[points] & np.isfinite(load)
    row = _geometry(record, lines)
    quality = Quality.NONE
    if ok.sum() < CROSSINGS_MIN:
        quality |= Quality.TOO_FEW_CROSSINGS
    if ok.sum() < 5:
        unresolved = lines.clear[points].sum() >= CROSSINGS_MIN
        return row, quality | (Quality.TOO_FINE if unresolved else Quality.NONE)
    number = lines.lines.line[points]
    share = float(ok.sum() / max(lines.clear[points].sum(), 1))
    row |= _medians("line_load_um", load, number, ok, share)
    for name, part in (("fine", record.fine), ("broad", record.broad)):
        if (ok & part).sum() >= CROSSINGS_MIN // 2:
            row |= _medians(f"{name}_line_load_um", load, number, ok & part, share)
    seen = lines.clear[points] & np.isfinite(work.values.load_um[points])
    printed = _printed(record, lines, work.values)
    length = lines.lines.length_mm[points]
    row["line_continuity_fraction"] = float(np.average(printed[seen], weights=length[seen]))
    row["u_line_continuity_fraction"] = u_share(row["line_continuity_fraction"], int(seen.sum()))
    row["line_length_mm_per_mm2"] *= row["line_continuity_fraction"]
    # Each end of a line is told to its nearest point.
    ends = (
        float(np.median(length)) * np.sqrt(2 * len(np.unique(number)) / 12) / max(float(length.sum()), 1e-9)
    )
    row["u_line_length_mm_per_mm2"] = combined(ends, U_SCALE) * row["line_length_mm_per_mm2"]
    row["line_load_variation"] = _variation(record, np.maximum(work.values.load_um[points], 0), number, seen)
    widths, wide_quality = _widths(record, work, seen & printed)
    row.update(widths)
    row.update(_open_gaps(record, lines, work.values, seen))
    return row, quality | wide_quality


def _geometry(record: RegionRecord, lines: StandardLines) -> dict[str, float]:
    """Return length, spacing and directions of the standard's lines in a region; they belong to the plate."""
    length = lines.lines.length_mm[record.points]
    row = {"line_length_mm_per_mm2": float(length.sum() / record.area_mm2)}
    main = _direction(record, lines, np.ones(len(length), dtype=np.bool_))
    row["line_angle_deg"], row["u_line_angle_deg"] = main.angle_deg, main.u_angle_deg
    row["lines_per_mm"], row["u_lines_per_mm"] = main.per_mm, main.u_per_mm
    other = _direction(record, lines, ~main.along)
    if length[other.along].sum() > SECOND_SHARE * length[main.along].sum():
        row["second_line_angle_deg"], row["u_second_line_angle_deg"] = other.angle_deg, other.u_angle_deg
        row["second_lines_per_mm"], row["u_second_lines_per_mm"] = other.per_mm, other.u_per_mm
    return row


class _Direction(NamedTuple):
    """Lines of one direction."""

    angle_deg: float
    u_angle_deg: float
    per_mm: float
    """NaN where too few stand side by side."""
    u_per_mm: float
    along: Mask


def _direction(record: RegionRecord, lines: StandardLines, among: Mask) -> _Direction:
    """Return the main direction of some points of a region, the spacing there and which points follow it."""
    points = record.points
    length = np.where(among, lines.lines.length_mm[points], 0.0)
    normals = lines.lines.normals[points]
    # Direction of the line counter-clockwise as seen, rows running down: (x, -y) of the tangent.
    angle = np.degrees(np.arctan2(normals[:, 0], normals[:, 1])) % 180
    bins = np.bincount((angle / 5).astype(np.intp) % 36, weights=length, minlength=36)
    main = 5 * (int(np.argmax(bins + np.roll(bins, 1) + np.roll(bins, -1))) + 0.5)
    apart = (angle - main + 90) % 180 - 90
    along = among & (np.abs(apart) < SAME_DIRECTION_DEG)
    if not along.any():
        return _Direction(*(float("nan"),) * 4, along)
    count = len(np.unique(lines.lines.line[points][along]))
    mean = float((main + np.average(apart[along], weights=length[along])) % 180)
    side = neighbour_distances(lines)[0][points][along]
    spacing = side[np.isfinite(side)]
    u_angle = ROBUST * float(np.median(np.abs(apart[along] - np.median(apart[along])))) / np.sqrt(count)
    if len(spacing) <= CROSSINGS_MIN:
        return _Direction(mean, u_angle, float("nan"), float("nan"), along)
    middle = float(np.median(spacing))
    relative = ROBUST * float(np.median(np.abs(spacing / middle - 1))) * MEDIAN_FACTOR / np.sqrt(count)
    return _Direction(mean, u_angle, 1 / middle, combined(relative, U_SCALE) / middle, along)


def _medians(name: str, values: Floats, number: Numbers, ok: Mask, share: float) -> dict[str, float]:
    """Return the median of some crossings and its uncertainty by sampling, under the name of a measure."""
    return {name: float(np.median(values[ok])), f"u_{name}": u_median(values[ok], number[ok], share)}


def hatching_of(record: RegionRecord, work: LineWork) -> HatchSensitivity | None:
    """Return how the hatching of a region depends on blur and depth; None where most lines stand alone."""
    points, fits = record.points, work.fits
    known = (
        fits.hatched[points] & np.isfinite(fits.width_um[points]) & np.isfinite(work.lines.spacing_mm[points])
    )
    if known.sum() < max(CROSSINGS_MIN, 0.5 * np.isfinite(fits.width_um[points]).sum()):
        return None
    load, width = (float(np.median(v[points][known])) / 1000 for v in (fits.load_um, fits.width_um))
    period = float(np.median(work.lines.spacing_mm[points][known]))
    held = float(np.median(fits.held[points][known]))
    return hatch_sensitivity(load, width, period, fits.broad.blur_mm, held)


def _printed(record: RegionRecord, lines: StandardLines, values: CrossingValues) -> Mask:
    """Return which crossings of a region carry ink, three neighbours along a line having a say."""
    share = values.load_um[record.points] / np.maximum(lines.load_um[record.points], 1.0)
    share = smooth_along(share, lines.lines.line[record.points], 1)
    return np.nan_to_num(share, nan=0.0) > PRINTED_SHARE


def _variation(record: RegionRecord, load: Floats, number: Numbers, ok: Mask) -> float:
    """Return the spread of load along the lines against the standard's same crossings, relative, quartile based."""
    share = smooth_along(np.where(ok, load / np.maximum(record.own_load_um, 1.0), np.nan), number, 2)
    share = share[np.isfinite(share)]
    if len(share) < CROSSINGS_MIN:
        return float("nan")
    low, middle, high = np.percentile(share, (16, 50, 84))
    return float((high - low) / 2 / max(middle, 1e-3))


def _widths(record: RegionRecord, work: LineWork, ok: Mask) -> tuple[dict[str, float], Quality]:
    """Return width, core, edges and hollowness where the lines are wide enough for this scan."""
    points, fits = record.points, work.fits
    width, depth = fits.width_um[points], fits.depth[points]
    least = 1000 * max(WIDE_PX * work.px_mm, WIDE_SIGMAS * fits.broad.blur_mm)
    fitted = ok & np.isfinite(width)
    wide = fitted & (width >= least)
    if wide.sum() < max(CROSSINGS_MIN, 0.5 * fitted.sum()):
        return {}, Quality.TOO_FINE
    number = work.lines.lines.line[points]
    core = fits.ground[points][wide] * (1 - depth[wide])
    row = {
        **_medians("line_width_um", width, number, wide, 1.0),
        "line_core_density": float(density(max(float(np.median(core)), FAINTEST))),
        "u_line_core_density": u_median(density(np.maximum(core, FAINTEST)), number[wide]),
    }
    for name, part in (("fine", record.fine), ("broad", record.broad)):
        if (wide & part).sum() >= max(CROSSINGS_MIN // 2, 0.5 * (fitted & part).sum()):
            row |= _medians(f"{name}_line_width_um", width, number, wide & part, 1.0)
    half = width / 2
    edges = (1000 * fits.offset_mm[points] - half, 1000 * fits.offset_mm[points] + half)
    rough = [_rough(edge, wide, number) for edge in edges]
    row["edge_raggedness_um"] = float(np.sqrt(np.mean(np.square(rough))))
    row["u_edge_raggedness_um"] = u_spread(row["edge_raggedness_um"], int(wide.sum()))
    soft = fits.broad.softness_um[points][wide]
    if np.isfinite(soft).sum() >= CROSSINGS_MIN:
        told = wide & np.isfinite(fits.broad.softness_um[points])
        row |= _medians("edge_softness_um", fits.broad.softness_um[points], number, told, 1.0)
    broad = wide & (width >= 1000 * HOLLOW_SIGMAS * fits.broad.blur_mm)
    if broad.sum() >= CROSSINGS_MIN:
        row |= _medians("hollow_index", work.values.hollow[points], number, broad, 1.0)
    return row, Quality.NONE


def _rough(edge: Floats, wide: Mask, number: Numbers) -> float:
    """Return the spread of an edge about its course through two neighbours, from second differences.

    The second difference of independent values has the standard deviation sqrt(6) s.
    """
    triple = wide[:-2] & wide[1:-1] & wide[2:] & (number[:-2] == number[2:])
    bend = (edge[:-2] - 2 * edge[1:-1] + edge[2:])[triple]
    bend = bend[np.isfinite(bend)]
    if len(bend) < CROSSINGS_MIN // 2:
        return float("nan")
    return float(1.4826 * np.median(np.abs(bend)) / np.sqrt(6))


def _open_gaps(
    record: RegionRecord, lines: StandardLines, values: CrossingValues, ok: Mask
) -> dict[str, float]:
    """Return how open the gaps of hatching are."""
    points = record.points
    gap = np.minimum(lines.spans.gap_left_mm[points], lines.spans.gap_right_mm[points])
    hatched = ok & np.isfinite(gap)
    row: dict[str, float] = {}
    if hatched.sum() >= CROSSINGS_MIN:
        contrast = values.gap_reflectance[points] - values.core_reflectance[points]
        known = hatched & (record.gap_contrast > 0.02)
        if known.any():
            row["hatch_open_fraction"] = float(np.mean(contrast[known] > 0.5 * record.gap_contrast[known]))
            row["u_hatch_open_fraction"] = u_share(row["hatch_open_fraction"], int(known.sum()))
    return row


def gap_ground(record: RegionRecord, work: LineWork) -> Gaps | None:
    """Return ground in the gaps of hatching, read midway between the lines that cross; None when there is little.

    The blur of the lines beside is taken off by the fits. The lines that cross the hatching darken the strip of pixels
    between them from both sides; how much, averaged over the strip, is what `gap_leak` says of gaps twice as wide as
    the way to each side. The way to the farther side is told by the crossings that lie midway.
    """
    points, lines, fits = record.points, work.lines, work.fits
    if not len(points):
        return None
    gap = np.minimum(lines.spans.gap_left_mm[points], lines.spans.gap_right_mm[points])
    readable = lines.clear[points] & np.isfinite(fits.ground[points]) & np.isfinite(gap)
    readable &= gap > GROUND_APART_SIGMAS * fits.broad.blur_mm
    readable &= lines.spacing_mm[points] > LEAST_PERIOD_PX * work.px_mm
    if readable.sum() < CROSSINGS_MIN:
        return None
    apart = np.minimum(lines.apart_mm[points], 1.0)
    midway = readable & (apart >= np.percentile(apart[readable], MIDWAY_PERCENT))
    depth = np.clip(fits.depth[points], 0, 0.98)
    nearer, strip = apart[midway], work.half_along_mm[points][midway]
    farther = 2 * max(float(np.percentile(apart[readable], MIDDLE_PERCENT)), 1e-3) - nearer
    leak = sum(
        gap_leak(2 * np.maximum(way, nearer), strip, fits.broad.blur_mm) / 2 for way in (nearer, farther)
    )
    tail = np.clip(1 - leak * depth[midway], 0.3, 1)
    return Gaps(lines.lines.points_mm[points][midway], fits.ground[points][midway] / tail)


def area_fraction(mean_reflectance: float, ground: float, solid: float) -> float:
    """Return the share of an area that line covers, against its own ground.

    Notes
    -----
    Murray and Davies 1936 in reflectances, ``(Rg - R) / (Rg - Rs)``, with the local ground instead of bare paper:
    a wiped film would otherwise count as line. Light spread in the paper is not corrected (n = 1).
    """
    if not (np.isfinite(ground) and np.isfinite(solid)) or ground - solid < 0.1:
        return float("nan")
    return float(np.clip((ground - mean_reflectance) / (ground - solid), 0, 1))
