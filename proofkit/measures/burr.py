"""Burr of drypoint: the skirt of ink beside the furrow, how much it holds, how far it reaches, on which side."""

import numpy as np
from scipy.ndimage import gaussian_filter1d

from proofkit.arrays import Floats
from proofkit.laying.standard_lines import StandardLines, line_profiles
from proofkit.measures.line_fit import LineFits
from proofkit.measures.types import LaidSheet, RegionRecord
from proofkit.scatter import MEDIAN_FACTOR, robust_sd

BURR_REACH_MM = 0.44
"""How far from the centreline a skirt is followed; burr holds ink up to 0.1 to 0.5 mm from its furrow (common
practice). [mm]"""

BURR_CROSSINGS = 30
"""Fewest crossings that tell a burr."""

MOST_CROSSINGS = 1500
"""Crossings that are read in a region."""

PITCH_MM = 0.004
"""Pitch at which profiles are averaged and drawn. [mm]"""

GUARD_SIGMAS = 3.0
"""Beyond so many blur sigmas from the furrow only skirt is seen: that tells which side is the fuller one."""

LEAST_SKIRT_UM = 1.0
"""A skirt with less ink has neither width nor side. [µm of full black]"""

FIRST = (0.06, 0.2, 0.1, 0.1)
"""Width [mm], absorbance of the fuller and of the other side, reach [mm] from which the fit starts."""

LOWEST, HIGHEST = (-0.05, 0.01, 0.0, 0.0, 0.02), (0.05, 0.4, 0.95, 0.95, 0.4)
"""Bounds of centre [mm], width [mm], absorbances and reach [mm]."""


BLUR_SHARE = (0.9, 1.4)
"""Blur of the averaged profiles against the scan's: reading between pixels and lines that wander add to it. [-]"""


def burr_measures(
    sheet: LaidSheet, record: RegionRecord, lines: StandardLines, fits: LineFits, film: float
) -> dict[str, float]:
    """Return load, width and one-sidedness of the burr of a region of drypoint; nothing where they cannot be had.

    Parameters
    ----------
    sheet : LaidSheet
    record : RegionRecord
    lines : StandardLines
    fits : LineFits
        Of the same sheet; for the blur and the depth of solid lines.
    film : float
        Density of the open ground. [D]

    Notes
    -----
    Profiles of a line are averaged, turned so that their fuller side lies alike, and averaged over the region. To that
    a furrow with an exponential skirt on each side is fitted through the blur. Furrow and skirt cannot be parted by
    where the profile is dark: the blur of one reaches into the other. The width is twice the mean distance of the
    skirt's ink from the furrow's edge, which for an exponential is twice its reach.
    """
    points = record.points[lines.clear[record.points]]
    points = points[:: max(len(points) // MOST_CROSSINGS, 1)]
    if len(points) < BURR_CROSSINGS or not np.isfinite(film):
        return {}
    s_mm: Floats = np.arange(-BURR_REACH_MM, BURR_REACH_MM + PITCH_MM / 2, PITCH_MM)
    profiles = _line_profiles(sheet, lines, points, s_mm, 10**-film)
    if len(profiles) < 2:
        return {}
    guard = np.median(lines.spans.width_mm[points]) / 2 + GUARD_SIGMAS * fits.broad.blur_mm
    left, right = (np.nansum(profiles[:, side * s_mm > guard], axis=1) * PITCH_MM for side in (-1, 1))
    turned = np.where((left > right)[:, None], profiles[:, ::-1], profiles)
    return _fitted(s_mm, turned, left + right, fits)


def _line_profiles(
    sheet: LaidSheet, lines: StandardLines, points: np.ndarray, s_mm: Floats, ground: float
) -> Floats:
    """Return 1 - R/Rg across each line, averaged along it, up to midway to its neighbours. Shape (lines, m)."""
    found = line_profiles(
        sheet.scan.plane, sheet.paper, sheet.laying, lines.lines.points_mm[points], lines.lines.normals[points],
        BURR_REACH_MM + 0.02,
    )  # fmt: skip
    offset = np.nan_to_num(sheet.crossings.offset_mm[points])
    number = lines.lines.line[points]
    averages = []
    for line in np.unique(number):
        of = np.flatnonzero(number == line)
        rows = [np.interp(s_mm + offset[k], found.s_mm, 1 - found.values[k] / ground) for k in of]
        average = np.mean(np.array(rows), axis=0)
        for sign, gaps in ((-1, lines.spans.gap_left_mm), (1, lines.spans.gap_right_mm)):
            midway = float(np.median(lines.spans.width_mm[points[of]] / 2 + gaps[points[of]] / 2))
            average[sign * s_mm > midway] = np.nan
        averages.append(average)
    whole = [average for average in averages if np.isfinite(average).mean() > 0.5]
    return np.array(whole)


def _drawn(s_mm: Floats, p: Floats, depth: float) -> Floats:
    """Return 1 - R/Rg of a furrow with skirts; `p` is centre, width, fuller and other absorbance, reach, blur."""
    away = s_mm - p[0]
    beyond = np.abs(away) - p[1] / 2
    skirt = np.where(away > 0, p[2], p[3]) * np.exp(-np.maximum(beyond, 0) / p[4])
    # The edge's own cell is shared, so that the picture follows the width smoothly.
    core = np.clip(0.5 - beyond / PITCH_MM, 0, 1)
    return np.asarray(gaussian_filter1d(core * depth + (1 - core) * skirt, p[5] / PITCH_MM))


def _fitted(s_mm: Floats, turned: Floats, beside: Floats, fits: LineFits) -> dict[str, float]:
    """Return the columns of a region from the profiles of its lines."""
    from scipy.optimize import least_squares  # noqa: PLC0415  16 MB, and few plates are drypoint

    count = np.isfinite(turned).sum(axis=0)
    mean = np.nansum(turned, axis=0) / np.maximum(count, 1)
    known = count > 0
    if known.mean() < 0.5:
        return {}

    def rest(p: Floats) -> Floats:
        return np.asarray((_drawn(s_mm, p, fits.broad.depth) - mean)[known])

    blur = fits.broad.blur_mm
    bounds = ((*LOWEST, BLUR_SHARE[0] * blur), (*HIGHEST, BLUR_SHARE[1] * blur))
    fit = least_squares(
        rest, (0.0, *FIRST, 1.1 * blur), bounds=bounds, x_scale=(0.01, 0.05, 0.2, 0.2, 0.1, 0.02)
    )
    _, width, fuller, other, reach, _ = fit.x
    followed = 1 - np.exp(-(BURR_REACH_MM - width / 2) / reach)
    load = 1000 * (fuller + other) * reach * followed
    spread = robust_sd(beside) / max(float(np.median(beside)), 1e-6)
    row = {
        "burr_load_um": float(load),
        "u_burr_load_um": float(load * MEDIAN_FACTOR * spread / np.sqrt(len(beside))),
    }
    if load >= LEAST_SKIRT_UM:
        row["burr_width_um"] = float(2000 * reach)
        row["burr_asymmetry"] = float(np.clip((fuller - other) / max(fuller + other, 1e-9), 0, 1))
    return row
