"""Line work of a region: the standard's lines, each read at its own place on this sheet."""

import numpy as np

from proofkit.arrays import Floats, Index, Mask, Numbers
from proofkit.laying.standard_lines import smooth_along
from proofkit.measures.continuity import BESIDE, printed, read_beside, share_of_standard, u_continuity
from proofkit.measures.gaps import open_gaps
from proofkit.measures.line_work import CROSSINGS_MIN, RegionLines, well_apart
from proofkit.measures.sampling import middle_mean, u_middle, u_of_ranks, u_robust_spread
from proofkit.measures.tone import FAINTEST
from proofkit.measures.uncertainty import (
    U_DEPTH,
    U_SCALE,
    HatchSensitivity,
    combined,
    depth_by_blur,
    hatch_sensitivity,
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

TRIPLES_ALIKE = 1.4
"""Triples of crossings that count as one where they follow each other: second differences of independent values are
correlated by -2/3 and 1/6, and whether they are larger than usual by 0.22 and 0.01, which makes 1.22 in runs of four
crossings and 1.45 in long ones (bivariate normal values, drawn). [-]"""


def crossing_loads(region: RegionLines) -> Floats:
    """Return the load of each crossing of a region, NaN where it cannot be had. [µm]

    Where a line stands alone its load is the integral of its profile, which no blur and no shape of the line changes.
    In hatching the ground itself is blurred away, so width times depth of the fitted line is taken. Drypoint's burr is
    no bar: there it is the integral again. Where lines in hatching and lines that stand alone meet in a region, both
    are told at the crossings chosen for fits: else the kind that is told more often would lead the middle.
    """
    record, fits, integral = region.record, region.work.fits, region.integral_um
    if record.region.work == "drypoint":
        return np.maximum(integral, 0)
    shown, hatched = region.resolved, region.hatched
    hatched_share = float(np.mean(fits.hatched[record.points]))
    if hatched_share > 0.5 and not shown.any():
        return np.full(len(integral), np.nan)  # lines that seem to stand alone here do not
    fitted = np.where(shown, region.width_um * region.depth, np.nan)
    if hatched_share > MIXED_SHARE:
        integral = np.where(fits.chosen[region.points], integral, np.nan)
    # Not where there are rows of dots, which seem to stand alone.
    integral = np.where(record.close[region.told], np.nan, integral)
    load = np.where(hatched, fitted, integral)
    if hatched_share > MIXED_SHARE:
        load = np.where(well_apart(region), load, np.nan)
    return np.maximum(load, 0)


def line_measures(region: RegionLines) -> tuple[dict[str, float], Quality]:
    """Return the line measures of a region.

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
    record, lines = region.record, region.work.lines
    if not len(record.points):
        return {}, Quality.NO_LINES
    if record.mostly_close:
        return {}, Quality.TOO_FINE
    load = crossing_loads(region)
    ok = region.clear & np.isfinite(load)
    clear = int(np.count_nonzero(lines.clear[record.points]))
    row = dict(record.geometry)
    quality = Quality.NONE
    if ok.sum() < CROSSINGS_MIN:
        quality |= Quality.TOO_FEW_CROSSINGS
    if ok.sum() < 5:
        return row, quality | (Quality.TOO_FINE if clear >= CROSSINGS_MIN else Quality.NONE)
    share = float(ok.sum() / max(clear, 1))
    row |= _middles("line_load_um", load, region.number, ok, share)
    parts = record.fine[region.told], record.broad[region.told]
    for name, part in zip(("fine", "broad"), parts, strict=True):
        if (ok & part).sum() >= CROSSINGS_MIN // 2:
            row |= _middles(f"{name}_line_load_um", load, region.number, ok & part, share)
    seen = region.clear & read_beside(region, BESIDE)
    prints, uncertain = printed(region)
    length = lines.lines.length_mm[region.points]
    row["line_continuity_fraction"] = float(np.average(prints[seen], weights=length[seen]))
    row["u_line_continuity_fraction"] = u_continuity(
        row["line_continuity_fraction"], uncertain[seen], float(seen.sum() / max(clear, 1))
    )
    row |= _length(region, row["line_continuity_fraction"], row["u_line_continuity_fraction"])
    row["line_load_variation"] = _variation(region, seen)
    widths, wide_quality = _widths(region, seen & prints, clear)
    row.update(widths)
    row.update(open_gaps(region, seen))
    return row, quality | wide_quality


def _length(region: RegionLines, continuity: float, u_continuity: float) -> dict[str, float]:
    """Return the length of line that prints over the area of a region, and its uncertainty. [mm/mm²]"""
    record, lines = region.record, region.work.lines.lines
    drawn = dict(record.geometry)["line_length_mm_per_mm2"]
    # Each end of a line is told to its nearest point; the points of a line follow each other.
    many = 1 + np.count_nonzero(np.diff(lines.line[record.points]))
    step = float(np.median(lines.length_mm[record.points[region.sample]]))
    ends = step * float(np.sqrt(2 * many / 12)) / max(drawn * record.area_mm2, 1e-9)
    length = drawn * continuity
    by_length = combined(ends, U_SCALE) * length
    return {
        "line_length_mm_per_mm2": length,
        "u_line_length_mm_per_mm2": combined(by_length, drawn * u_continuity),
    }


def _middles(name: str, values: Floats, number: Numbers, ok: Mask, share: float) -> dict[str, float]:
    """Return the middle of some crossings and its uncertainty by sampling, under the name of a measure."""
    return {name: middle_mean(values[ok]), f"u_{name}": u_middle(values[ok], number[ok], share)}


def hatching_of(region: RegionLines) -> HatchSensitivity | None:
    """Return how the hatching of a region depends on blur and depth; None where most lines stand alone."""
    fits, fitted = region.work.fits, np.isfinite(region.width_um)
    known = region.hatched & fitted & np.isfinite(region.spacing_mm)
    if known.sum() < max(CROSSINGS_MIN, 0.5 * fitted.sum()):
        return None
    load, width, period, held = (
        float(np.median(values[known]))
        for values in (
            region.width_um * region.depth / 1000,
            region.width_um / 1000,
            region.spacing_mm,
            fits.held[region.points],
        )
    )
    return hatch_sensitivity(load, width, period, fits.broad.blur_mm, held)


def held_depth(region: RegionLines) -> float:
    """Return the relative standard uncertainty of the depth near which a region's lines were held. [-]"""
    known = np.isfinite(region.depth)
    if not known.any():
        return U_DEPTH
    u_depth = region.work.fits.u_depth[region.points[known]]
    return float(np.median(u_depth) / max(np.median(region.depth[known]), FAINTEST))


def _variation(region: RegionLines, ok: Mask) -> float:
    """Return the spread of load along the lines against the standard's same crossings, relative, quartile based."""
    share = np.where(ok, np.maximum(share_of_standard(region), 0), np.nan)
    share = smooth_along(share, region.number, 2)
    share = share[np.isfinite(share) & read_beside(region, 2)]
    if len(share) < CROSSINGS_MIN:
        return float("nan")
    low, middle, high = np.percentile(share, (16, 50, 84))
    return float((high - low) / 2 / max(middle, 1e-3))


def _widths(region: RegionLines, ok: Mask, clear: int) -> tuple[dict[str, float], Quality]:
    """Return width, core, edges and hollowness where the lines are wide enough for this scan.

    `clear` is how many crossings of the region no other line covers, whether they were read or not.
    """
    points, fits, width, number = region.points, region.work.fits, region.width_um, region.number
    least = 1000 * max(WIDE_PX * region.work.px_mm, WIDE_SIGMAS * fits.broad.blur_mm)
    fitted = ok & np.isfinite(width)
    wide = fitted & (width >= least)
    if wide.sum() < max(CROSSINGS_MIN, 0.5 * fitted.sum()):
        return {}, Quality.TOO_FINE
    core = fits.ground[points[wide]] * (1 - region.depth[wide])
    share = float(wide.sum() / max(clear, 1))
    row = {
        **_middles("line_width_um", width, number, wide, share),
        "line_core_density": float(density(max(middle_mean(core), FAINTEST))),
        "u_line_core_density": combined(
            u_middle(density(np.maximum(core, FAINTEST)), number[wide], share), _by_depth(region, wide)
        ),
    }
    for name, of_all in (("fine", region.record.fine), ("broad", region.record.broad)):
        part = of_all[region.told]
        if (wide & part).sum() >= max(CROSSINGS_MIN // 2, 0.5 * (fitted & part).sum()):
            row |= _middles(f"{name}_line_width_um", width, number, wide & part, share)
    middle, half = 1000 * fits.offset_mm[points], width / 2
    # All fitted crossings: near the limit of width single ones are wide on one scan and not on the next.
    triples = _triples(fitted, region)
    rough = [_rough(edge, triples) for edge in (middle - half, middle + half)]
    row["edge_raggedness_um"] = float(np.sqrt(np.mean(np.square(rough))))
    # Both edges tell it, from triples that share crossings.
    row["u_edge_raggedness_um"] = u_robust_spread(row["edge_raggedness_um"], 2 * len(triples) / TRIPLES_ALIKE)
    soft = fits.broad.softness_um[points]
    told = wide & np.isfinite(soft)
    if told.sum() >= CROSSINGS_MIN:
        row |= _middles("edge_softness_um", soft, number, told, min(told.sum() / max(clear, 1), 1.0))
    broad = wide & (width >= 1000 * HOLLOW_SIGMAS * fits.broad.blur_mm)
    if broad.sum() >= CROSSINGS_MIN:
        hollow = region.work.values.hollow[points]
        row["hollow_index"] = middle_mean(hollow[broad])
        row["u_hollow_index"] = u_of_ranks(hollow[broad])
    return row, Quality.NONE


def _by_depth(region: RegionLines, wide: Mask) -> float:
    """Return the uncertainty of cores by that of the depth: what held it, else the blur at a fixed load. [D]"""
    fits, points = region.work.fits, region.points[wide]
    width, depth, held, u_depth = (
        float(np.median(values))
        for values in (region.width_um[wide], region.depth[wide], fits.held[points], fits.u_depth[points])
    )
    by_blur = (1 - held) * depth_by_blur(width, 1000 * fits.broad.blur_mm)
    relative = combined(held * u_depth / depth, by_blur * fits.broad.u_blur)
    return relative * depth / max(1 - depth, FAINTEST) / float(np.log(10))


def _triples(wanted: Mask, region: RegionLines) -> Index:
    """Return the first of each three wanted crossings that follow each other on a line."""
    points, number = region.points, region.number
    three = wanted[:-2] & wanted[1:-1] & wanted[2:] & (number[:-2] == number[2:])
    return np.flatnonzero(three & (points[2:] - points[:-2] == 2))


def _rough(edge: Floats, triples: Index) -> float:
    """Return the spread of an edge about its course through two neighbours, from second differences.

    The second difference of independent values has the standard deviation sqrt(6) s.
    """
    bend = edge[triples] - 2 * edge[triples + 1] + edge[triples + 2]
    bend = bend[np.isfinite(bend)]
    if len(bend) < CROSSINGS_MIN // 2:
        return float("nan")
    return float(robust_sd(bend, about=0) / np.sqrt(6))
