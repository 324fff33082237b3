"""Line work of a region: the standard's lines, each read at its own place on this sheet."""

import numpy as np
from scipy.special import ndtr

from proofkit.arrays import Floats, Mask, Numbers
from proofkit.laying.standard_lines import StandardLines, smooth_along
from proofkit.lines.crossings import CrossingValues
from proofkit.measures.film_cells import Gaps
from proofkit.measures.types import RegionRecord
from proofkit.quality import Quality
from proofkit.units import density

CROSSINGS_MIN = 30
"""Fewer crossings make a median doubtful (common practice in sampling by hand). """

WIDE_PX = 4.0
WIDE_SIGMAS = 3.0
"""Width and core are given for lines of at least 4 px and 3 blur sigmas: half-depth width of a blurred bar is
11 % too wide at 3 sigmas (error function, closed form), and worse below."""

PRINTED_SHARE = 0.35
"""A crossing prints when it carries this share of the standard's load there (choice of ours). [-]"""

GROUND_APART_SIGMAS = 3.0
"""Gaps are read when they are this many blur sigmas wide."""

MIDWAY_PERCENT = 70
"""Of the gaps of cross-hatching, the third farthest from the lines that cross are read. [%]"""


def line_measures(
    record: RegionRecord, lines: StandardLines, values: CrossingValues, blur_mm: float, px_mm: float
) -> tuple[dict[str, float], Quality]:
    """Return the line measures of a region.

    Parameters
    ----------
    record : RegionRecord
        The region, with the standard's points in it.
    lines : StandardLines
    values : CrossingValues
        All crossings as this sheet shows them.
    blur_mm : float
        Of this scan. [mm]
    px_mm : float
        Side of a pixel of this scan in plate mm. [mm]

    Returns
    -------
    dict
        Columns of `measurements`, with ``u_`` where it is known.
    Quality

    Notes
    -----
    Loads are medians over the clear crossings, missing ones counted with what they have. The uncertainty of a
    median is 1.253 s / sqrt(n) for near-normal values (Kenney and Keeping 1962), with the lines, not the crossings,
    as independent samples, since grain and hand go along a line.
    """
    if not len(record.points):
        return {}, Quality.NO_LINES
    points = record.points
    ok = lines.clear[points] & np.isfinite(values.load_um[points])
    row = _geometry(record, lines)
    quality = Quality.NONE
    if ok.sum() < CROSSINGS_MIN:
        quality |= Quality.TOO_FEW_CROSSINGS
    if ok.sum() < 5:
        return row, quality
    load = np.maximum(values.load_um[points], 0)
    number = lines.lines.line[points]
    row["line_load_um"] = float(np.median(load[ok]))
    row["u_line_load_um"] = _u_median(load[ok], number[ok])
    for name, part in (("fine", record.fine), ("broad", record.broad)):
        if (ok & part).sum() >= CROSSINGS_MIN // 2:
            row[f"{name}_line_load_um"] = float(np.median(load[ok & part]))
            row[f"u_{name}_line_load_um"] = _u_median(load[ok & part], number[ok & part])
    printed = _printed(record, lines, values)
    length = lines.lines.length_mm[points]
    row["line_continuity_fraction"] = float(np.average(printed[ok], weights=length[ok]))
    row["line_length_mm_per_mm2"] *= row["line_continuity_fraction"]
    row["line_load_variation"] = _variation(record, load, number, ok)
    widths, wide_quality = _widths(record, values, ok & printed, blur_mm, px_mm)
    row.update(widths)
    row.update(_open_gaps(record, lines, values, ok))
    return row, quality | wide_quality


def _u_median(values: Floats, number: Numbers) -> float:
    """Return the standard uncertainty of a median whose independent samples are the lines."""
    lines = max(len(np.unique(number)), 1)
    spread = 1.4826 * float(np.median(np.abs(values - np.median(values))))
    return float(1.253 * spread / np.sqrt(lines))


def _geometry(record: RegionRecord, lines: StandardLines) -> dict[str, float]:
    """Return length, spacing and direction of the standard's lines in a region; they belong to the plate."""
    points = record.points
    length = lines.lines.length_mm[points]
    row = {"line_length_mm_per_mm2": float(length.sum() / record.area_mm2)}
    normals = lines.lines.normals[points]
    # Direction of the line counter-clockwise as seen, rows running down: (x, -y) of the tangent.
    angle = np.degrees(np.arctan2(normals[:, 0], normals[:, 1])) % 180
    bins = np.bincount((angle / 5).astype(np.intp) % 36, weights=length, minlength=36)
    main = 5 * (int(np.argmax(bins + np.roll(bins, 1) + np.roll(bins, -1))) + 0.5)
    apart = (angle - main + 90) % 180 - 90
    along = np.abs(apart) < 15
    row["line_angle_deg"] = float((main + np.average(apart[along], weights=length[along])) % 180)
    spacing = lines.spacing_mm[points][along]
    spacing = spacing[np.isfinite(spacing)]
    if len(spacing) > CROSSINGS_MIN:
        row["lines_per_mm"] = float(1 / np.median(spacing))
    return row


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


def _widths(
    record: RegionRecord, values: CrossingValues, ok: Mask, blur_mm: float, px_mm: float
) -> tuple[dict[str, float], Quality]:
    """Return width, core, edges and hollowness where the lines are wide enough for this scan."""
    width = values.width_um[record.points] / 1000
    least = max(WIDE_PX * px_mm, WIDE_SIGMAS * blur_mm)
    wide = ok & np.isfinite(width) & (width >= least)
    if wide.sum() < max(CROSSINGS_MIN, 0.5 * ok.sum()):
        return {}, Quality.TOO_FINE
    core = values.core_reflectance[record.points][wide]
    number = np.flatnonzero(wide)
    row = {
        "line_width_um": float(np.median(width[wide]) * 1000),
        "u_line_width_um": _u_median(width[wide] * 1000, number // 5),
        "line_core_density": float(density(np.median(core))),
        "edge_softness_um": float(np.nanmedian(values.softness_um[record.points][wide])),
        "hollow_index": float(np.median(values.hollow[record.points][wide])),
    }
    left, right = values.left_edge_mm[record.points], values.right_edge_mm[record.points]
    rough = [_rough(edge, wide) for edge in (left, right)]
    row["edge_raggedness_um"] = float(np.sqrt(np.mean(np.square(rough))) * 1000)
    return row, Quality.NONE


def _rough(edge: Floats, wide: Mask) -> float:
    """Return the spread of an edge about its course through two neighbours, from second differences. [mm]

    The second difference of independent values has the standard deviation sqrt(6) s.
    """
    triple = wide[:-2] & wide[1:-1] & wide[2:]
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
    return row


def gap_ground(
    record: RegionRecord, lines: StandardLines, values: CrossingValues, blur_mm: float
) -> Gaps | None:
    """Return ground in the gaps of hatching, read midway between the lines that cross; None when there is little.

    The blur of the lines beside is already taken back in `CrossingValues.ground`. The lines that cross the hatching
    darken a profile midway between them from both sides by ``2 Phi(-apart / sigma)`` of their depth.
    """
    points = record.points
    if not len(points):
        return None
    gap = np.minimum(lines.spans.gap_left_mm[points], lines.spans.gap_right_mm[points])
    readable = lines.clear[points] & np.isfinite(values.ground[points]) & np.isfinite(gap)
    readable &= gap > GROUND_APART_SIGMAS * blur_mm
    if readable.sum() < CROSSINGS_MIN:
        return None
    apart = np.minimum(lines.apart_mm[points], 1.0)
    midway = readable & (apart >= np.percentile(apart[readable], MIDWAY_PERCENT))
    depth = np.clip(values.load_um[points] / 1000 / np.maximum(lines.spans.width_mm[points], 1e-3), 0, 0.98)
    tail = np.clip(1 - 2 * ndtr(-apart[midway] / blur_mm) * depth[midway], 0.3, 1)
    return Gaps(lines.lines.points_mm[points][midway], values.ground[points][midway] / tail)


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
