"""Share of a region that its lines cover."""

from typing import NamedTuple

import numpy as np

from proofkit.measures.line_work import CROSSINGS_MIN, LineWork
from proofkit.measures.types import RegionRecord
from proofkit.measures.uncertainty import U_DEPTH, combined, width_by_blur

LEAST_CONTRAST = 0.1
"""Ground and line have to differ by this much of bare paper (choice of ours). [-]"""


class LineDepth(NamedTuple):
    """How dark the lines of a region are against their ground."""

    depth: float
    """1 - R/Rg before the scan's blur. [-]"""
    u_relative: float
    """Its relative standard uncertainty. [-]"""


def line_depth(record: RegionRecord, work: LineWork, solid: float) -> LineDepth:
    """Return how dark a region's lines are: by their fits, else as dark as `solid`, the sheet's solid ink (R/Rp).

    Solid ink stands in for drypoint as well, whose lines lie in the skirt of their burr, and where few are fitted.
    """
    points, fits = record.points, work.fits
    known = work.lines.clear[points] & np.isfinite(fits.depth[points]) & np.isfinite(fits.width_um[points])
    if record.region.work == "drypoint" or known.sum() < CROSSINGS_MIN:
        return LineDepth(1 - solid, U_DEPTH)
    of_width = width_by_blur(float(np.median(fits.width_um[points][known])), 1000 * fits.broad.blur_mm)
    held = float(np.median(fits.held[points][known]))
    # At a fixed load a line that is read wider is read as much paler.
    return LineDepth(
        float(np.median(fits.depth[points][known])), combined(held * U_DEPTH, of_width * fits.broad.u_blur)
    )


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
    record: RegionRecord, work: LineWork, mean_reflectance: float, solid: float, row: dict[str, float]
) -> dict[str, float]:
    """Return the area covered by a region's lines and its uncertainty, the ground being that of `row`.

    Parameters
    ----------
    record : RegionRecord
    work : LineWork
    mean_reflectance : float
        R/Rp of the region. [-]
    solid : float
        R/Rp of the sheet's solid ink. [-]
    row : dict
        Cells of the region so far: film, ground between lines and tone, with their uncertainties.
    """
    between = np.isfinite(row.get("ground_between_lines_density", np.nan))
    film = "ground_between_lines_density" if between else "plate_tone_density"
    ground = 10 ** -row.get(film, float("nan"))
    lines = line_depth(record, work, solid)
    area = area_fraction(mean_reflectance, ground, ground * (1 - lines.depth))
    if not np.isfinite(area):
        return {}
    u_ground = float(np.log(10)) * row.get(f"u_{film}", 0.0)
    by_ground = (1 - area * lines.depth) * u_ground / lines.depth
    by_tone = row.get("u_tone_fraction", 0.0) / (ground * lines.depth)
    return {
        "line_area_fraction": area,
        "u_line_area_fraction": combined(by_ground, by_tone, area * lines.u_relative),
    }
