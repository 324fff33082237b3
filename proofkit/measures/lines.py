"""Line work of a region: the standard's lines, each read at its own place on this sheet."""

import numpy as np

from proofkit.arrays import Floats, Index, Mask, Numbers
from proofkit.laying.standard_lines import StandardLines, smooth_along
from proofkit.lines.crossings import PlacedValues
from proofkit.measures.gaps import open_gaps
from proofkit.measures.line_work import CROSSINGS_MIN, LineWork, resolved, well_apart
from proofkit.measures.sampling import middle_mean, u_middle
from proofkit.measures.tone import FAINTEST
from proofkit.measures.types import RegionRecord
from proofkit.measures.uncertainty import (
    U_DEPTH,
    U_SCALE,
    HatchSensitivity,
    combined,
    depth_by_blur,
    hatch_sensitivity,
    u_share,
    u_spread,
)
from proofkit.quality import Quality
from proofkit.scatter import robust_sd
from proofkit.units import density

WIDE_PX = 2.0
WIDE_SIGMAS = 3.0
"""Width and core are given for lines of at least 2 px and 3 blur sigmas. Below that width and depth trade places: an
error of 1 % of the blur is one of 0.8 % of the width at 3 sigmas, 2.3 % at 2 (refitted bars)."""

HOLLOW_SIGMAS = 6.0
"""A pale centre can be trusted from this many blur sigmas of width on: both edges' tails leave 0.3 % there."""

MIXED_SHARE = 0.005
"""From this share of crossings in hatching on a region has both kinds; fewer cannot move a median. [-]"""

PRINTED_SHARE = 0.35
"""A crossing prints when it carries this share of the standard's load there (choice of ours). [-]"""


def crossing_loads(record: RegionRecord, work: LineWork) -> Floats:
    """Return the load of each crossing of a region, NaN where it cannot be had. [µm]

    Where a line stands alone its load is the integral of its profile, which no blur and no shape of the line changes.
    In hatching the ground itself is blurred away, so width times depth of the fitted line is taken. Drypoint's burr is
    no bar: there it is the integral again. Where lines in hatching and lines that stand alone meet in a region, both
    are told at the crossings chosen for fits: else the kind that is told more often would lead the middle.
    """
    points = record.points
    integral = work.values.load_um[points]
    if record.region.work == "drypoint":
        return np.maximum(integral, 0)
    shown, hatched = resolved(record, work), work.fits.hatched[points]
    if 2 * hatched.sum() > len(points) and not shown.any():
        return np.full(len(points), np.nan)  # lines that seem to stand alone here do not
    fitted = np.where(shown, work.fits.load_um[points], np.nan)
    if hatched.mean() > MIXED_SHARE:
        integral = np.where(work.fits.chosen[points], integral, np.nan)
    integral = np.where(record.close, np.nan, integral)  # rows of dots, which seem to stand alone
    load = np.where(hatched, fitted, integral)
    if hatched.mean() > MIXED_SHARE:
        load = np.where(well_apart(record, work), load, np.nan)
    return np.maximum(load, 0)


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
    Loads are means of the middle half of the clear crossings, missing ones counted with what they have. Their ``u_`` is
    the sampling part (`u_middle`); `with_calibration` adds the rest.
    """
    if not len(record.points):
        return {}, Quality.NO_LINES
    if record.mostly_close:
        return {}, Quality.TOO_FINE
    lines, points = work.lines, record.points
    load = crossing_loads(record, work)
    ok = lines.clear[points] & np.isfinite(load)
    row = dict(record.geometry)
    quality = Quality.NONE
    if ok.sum() < CROSSINGS_MIN:
        quality |= Quality.TOO_FEW_CROSSINGS
    if ok.sum() < 5:
        unresolved = lines.clear[points].sum() >= CROSSINGS_MIN
        return row, quality | (Quality.TOO_FINE if unresolved else Quality.NONE)
    number = lines.lines.line[points]
    share = float(ok.sum() / max(lines.clear[points].sum(), 1))
    row |= _middles("line_load_um", load, number, ok, share)
    for name, part in (("fine", record.fine), ("broad", record.broad)):
        if (ok & part).sum() >= CROSSINGS_MIN // 2:
            row |= _middles(f"{name}_line_load_um", load, number, ok & part, share)
    seen = lines.clear[points] & _read_beside(work, points, 1)
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
    row["line_load_variation"] = _variation(record, work, seen)
    widths, wide_quality = _widths(record, work, seen & printed)
    row.update(widths)
    row.update(open_gaps(record, lines, work.values, seen))
    return row, quality | wide_quality


def _middles(name: str, values: Floats, number: Numbers, ok: Mask, share: float) -> dict[str, float]:
    """Return the middle of some crossings and its uncertainty by sampling, under the name of a measure."""
    return {name: middle_mean(values[ok]), f"u_{name}": u_middle(values[ok], number[ok], share)}


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


def held_depth(record: RegionRecord, work: LineWork) -> float:
    """Return the relative standard uncertainty of the depth near which a region's lines were held. [-]"""
    points, fits = record.points, work.fits
    known = np.isfinite(fits.depth[points])
    if not known.any():
        return U_DEPTH
    return float(np.median(fits.u_depth[points][known]) / max(np.median(fits.depth[points][known]), FAINTEST))


def _printed(record: RegionRecord, lines: StandardLines, values: PlacedValues) -> Mask:
    """Return which crossings of a region carry ink, three neighbours along a line having a say."""
    share = values.load_um[record.points] / np.maximum(lines.load_um[record.points], 1.0)
    share = smooth_along(share, lines.lines.line[record.points], 1)
    return np.nan_to_num(share, nan=0.0) > PRINTED_SHARE


def _read_beside(work: LineWork, points: Index, half_width: int) -> Mask:
    """Return at which points all crossings up to `half_width` beside on the same line were read, and their own."""
    number, load = work.lines.lines.line, work.values.load_um
    told, own = np.isfinite(load[points]), number[points]
    for step in range(-half_width, half_width + 1):
        # Those that are not read are most, and out already.
        left = np.flatnonzero(told)
        at = np.clip(points[left] + step, 0, len(number) - 1)
        told[left] = np.isfinite(load[at]) | (number[at] != own[left])
    return told


def _variation(record: RegionRecord, work: LineWork, ok: Mask) -> float:
    """Return the spread of load along the lines against the standard's same crossings, relative, quartile based."""
    number = work.lines.lines.line[record.points]
    share = np.maximum(work.values.load_um[record.points], 0) / np.maximum(
        work.lines.load_um[record.points], 1.0
    )
    share = smooth_along(np.where(ok, share, np.nan), number, 2)
    share = share[np.isfinite(share) & _read_beside(work, record.points, 2)]
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
        **_middles("line_width_um", width, number, wide, 1.0),
        "line_core_density": float(density(max(middle_mean(core), FAINTEST))),
        "u_line_core_density": combined(
            u_middle(density(np.maximum(core, FAINTEST)), number[wide]), _by_depth(work, points[wide])
        ),
    }
    for name, part in (("fine", record.fine), ("broad", record.broad)):
        if (wide & part).sum() >= max(CROSSINGS_MIN // 2, 0.5 * (fitted & part).sum()):
            row |= _middles(f"{name}_line_width_um", width, number, wide & part, 1.0)
    half = width / 2
    edges = (1000 * fits.offset_mm[points] - half, 1000 * fits.offset_mm[points] + half)
    # All fitted crossings: near the limit of width single ones are wide on one scan and not on the next.
    rough = [_rough(edge, fitted, number) for edge in edges]
    row["edge_raggedness_um"] = float(np.sqrt(np.mean(np.square(rough))))
    row["u_edge_raggedness_um"] = u_spread(row["edge_raggedness_um"], int(fitted.sum()))
    soft = fits.broad.softness_um[points][wide]
    if np.isfinite(soft).sum() >= CROSSINGS_MIN:
        told = wide & np.isfinite(fits.broad.softness_um[points])
        row |= _middles("edge_softness_um", fits.broad.softness_um[points], number, told, 1.0)
    broad = wide & (width >= 1000 * HOLLOW_SIGMAS * fits.broad.blur_mm)
    if broad.sum() >= CROSSINGS_MIN:
        row |= _middles("hollow_index", work.values.hollow[points], number, broad, 1.0)
    return row, Quality.NONE


def _by_depth(work: LineWork, points: Index) -> float:
    """Return the uncertainty of cores by that of the depth: what held it, else the blur at a fixed load. [D]"""
    fits = work.fits
    width, depth, held, u_depth = (
        float(np.median(v[points])) for v in (fits.width_um, fits.depth, fits.held, fits.u_depth)
    )
    by_blur = (1 - held) * depth_by_blur(width, 1000 * fits.broad.blur_mm)
    relative = combined(held * u_depth / depth, by_blur * fits.broad.u_blur)
    return relative * depth / max(1 - depth, FAINTEST) / float(np.log(10))


def _rough(edge: Floats, wide: Mask, number: Numbers) -> float:
    """Return the spread of an edge about its course through two neighbours, from second differences.

    The second difference of independent values has the standard deviation sqrt(6) s.
    """
    triple = wide[:-2] & wide[1:-1] & wide[2:] & (number[:-2] == number[2:])
    bend = (edge[:-2] - 2 * edge[1:-1] + edge[2:])[triple]
    bend = bend[np.isfinite(bend)]
    if len(bend) < CROSSINGS_MIN // 2:
        return float("nan")
    return float(robust_sd(bend, about=0) / np.sqrt(6))
