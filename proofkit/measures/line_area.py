"""Share of a region that its lines cover."""

from typing import NamedTuple

import numpy as np

from proofkit.measures.line_work import CROSSINGS_MIN, RegionLines, crossed_share
from proofkit.measures.uncertainty import U_DEPTH, WIDTH_BY_CURVE, Situation, combined, depth_by_blur

LEAST_CONTRAST = 0.1
"""Ground and line have to differ by this much of bare paper (choice of ours). [-]"""


GROUNDS = ("ground_between_lines_density", "plate_tone_density")
"""Where the ground is told: in hatching by its gaps, else by the film."""


class LineDepth(NamedTuple):
    """How dark the lines of a region are against their ground."""

    depth: float
    """1 - R/Rg before the scan's blur. [-]"""
    held: float
    """Share of it that was taken from other lines. [-]"""
    width_um: float
    """Width of the lines. [µm]"""
    u_held: float = U_DEPTH
    """Relative standard uncertainty of the depth that was taken. [-]"""


def line_depth(region: RegionLines, solid: float) -> LineDepth:
    """Return how dark a region's lines are: by their fits, else as dark as `solid`, the sheet's solid ink (R/Rp).

    Solid ink stands in for drypoint as well, whose lines lie in the skirt of their burr, and where few are fitted.
    """
    record, work = region.record, region.work
    known = region.clear & np.isfinite(region.depth) & np.isfinite(region.width_um)
    if record.region.work == "drypoint" or known.sum() < CROSSINGS_MIN:
        width_mm = float(np.median(work.lines.spans.width_mm[record.points]))
        return LineDepth(1 - solid, 1.0, 1000 * width_mm)
    points = region.points[known]
    depth, held, width, u_depth = (
        float(np.median(values))
        for values in (
            region.depth[known],
            work.fits.held[points],
            region.width_um[known],
            work.fits.u_depth[points],
        )
    )
    return LineDepth(depth, held, width, u_depth / depth)


def area_fraction(mean_reflectance: float, ground: float, solid: float) -> float:
    """Return the share of an area that line covers, against its own ground.

    Notes
    -----
    Murray and Davies 1936 in reflectances, ``(Rg - R) / (Rg - Rs)``, with the local ground instead of bare paper:
    a wiped film would otherwise count as line. Light spread in the paper is not corrected (n = 1).
    """
    if not (np.isfinite(ground) and np.isfinite(solid)) or ground - solid < LEAST_CONTRAST:
        return float("nan")
    return float(np.clip((ground - mean_reflectance) / (ground - solid), 0, 1))


def area_measure(
    region: RegionLines,
    mean_reflectance: float,
    solid: float,
    row: dict[str, float],
    at: Situation,
) -> dict[str, float]:
    """Return the area covered by a region's lines and its uncertainty, the ground being that of `row`.

    Parameters
    ----------
    region : RegionLines
    mean_reflectance : float
        R/Rp of the region. [-]
    solid : float
        R/Rp of the sheet's solid ink. [-]
    row : dict
        Cells of the region so far: film, ground between lines and tone, with the sampling part of their uncertainties.
    at : Situation

    Notes
    -----
    An error of bare paper's level moves ground, tone and line by one factor, which drops out; so does an error of the
    tone curve but for the lines' edges, which it moves as it moves their width. Ground read in the gaps of hatching
    follows the depth that was assumed: a line taken for paler is then read wider *and* its ground lighter. Whether ink
    lies double where lines cross is not known.
    """
    # The few gaps of a region whose lines mostly stand alone do not speak for its ground.
    known = [name for name in GROUNDS if np.isfinite(row.get(name, np.nan))]
    film = known[0 if at.hatch is not None else -1] if known else GROUNDS[0]
    ground = 10 ** -row.get(film, float("nan"))
    lines = line_depth(region, solid)
    area = area_fraction(mean_reflectance, ground, ground * (1 - lines.depth))
    if not np.isfinite(area):
        return {}
    u_ground = combined(float(np.log(10)) * row.get(f"u_{film}", 0.0), at.quantisation)
    by_ground = (1 - area * lines.depth) * u_ground / lines.depth
    by_tone = row.get("u_tone_fraction", 0.0) / (ground * lines.depth)
    of_line = line_uncertainty(lines, at, in_gaps=film == GROUNDS[0] or at.film_from_gaps)
    # Two directions of half the area each share a quarter of its square, where ink may lie double.
    double = crossed_share(region) * area / 4 * (1 - lines.depth)
    return {
        "line_area_fraction": area,
        "u_line_area_fraction": combined(by_ground, by_tone, area * of_line, area * double),
    }


def line_uncertainty(lines: LineDepth, at: Situation, *, in_gaps: bool) -> float:
    """Return the relative standard uncertainty of an area by what is not known of its lines: depth, blur and curve."""
    by_depth = lines.held
    # At a fixed load a line that is read wider is read as much paler, as far as its depth is its own.
    by_blur = -(1 - lines.held) * depth_by_blur(lines.width_um, at.blur_um)
    if in_gaps and at.hatch is not None:
        by_depth -= at.hatch.load_by_depth
        by_blur += at.hatch.load_by_blur
    return combined(
        by_depth * lines.u_held,
        by_blur * at.calibration.blur,
        WIDTH_BY_CURVE * at.blur_um / lines.width_um * at.calibration.curve,
    )
