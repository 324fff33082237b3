"""Ink film left on unworked ground by wiping: its mean, its unevenness, its streaks, and stray marks on it."""

import numpy as np

from proofkit.measures.film_cells import Gaps, GroundBlocks, film_cells, ground_blocks, mean_film, plane_of
from proofkit.measures.ground import local_mean
from proofkit.measures.region_cells import RegionCells
from proofkit.measures.statistics import moments, trimmed_mean
from proofkit.measures.strip_kernels import strip_power
from proofkit.measures.types import RegionRecord
from proofkit.measures.uncertainty import combined
from proofkit.measures.unevenness import u_course_spread, u_fine_spread
from proofkit.quality import Quality
from proofkit.scatter import robust_sd
from proofkit.units import density

GROUND_MM2_MIN = 0.5
"""Least area of ground for a film: with grain of 2 % in spots of 0.1 mm it leaves 0.001 D. [mm²]"""

STREAK_CELL_MM = 0.25
STREAK_SLOW_MM = 2.5
"""Film that changes over more than this is unevenness, not streaks. [mm]"""

STREAK_FEWEST = 6
"""Strips of so many cells, and so many strips, tell streaks (choice of ours)."""

CELLS_OF_A_COURSE, UNREAD_SHARE = 5, 0.5
"""With fewer cells than this nothing is known of how the film changes, so that it cannot stand for more than this share
of a region without any: one cell of 274, in a corner of drypoint, read 0.006 D off from sheet to sheet. [cells], [-]"""

GROUND_SHARE_OF_TEXTURE = 0.3
"""In a texture the quiet spots between marks are ground only where they are plenty; else they are pale marks. [-]"""

GRAIN = 0.02
"""Grain of paper where there is no ground to tell it, relative (common practice). [-]"""

U_GAP_DENSITY = 0.001
"""Standard uncertainty of film read in gaps that blur and depth do not explain: what ruled patches left. [D]"""

GRAIN_SPOT_MM2 = 0.02
"""Area over which paper grain and film are alike, to count independent samples (paper grain about 0.15 mm,
common practice). [mm²]"""


def streak_blocks(cells: RegionCells, pitch_mm: float) -> GroundBlocks:
    """Return the far ground of a region in the blocks in which streaks are told."""
    return ground_blocks(cells, max(round(STREAK_CELL_MM / pitch_mm), 1))


def film_measures(
    cells: RegionCells, fine: GroundBlocks, record: RegionRecord, gaps: Gaps | None, clouds: float = 0.0
) -> tuple[dict[str, float], Quality]:
    """Return the measures of the film on a region's ground.

    Parameters
    ----------
    cells : RegionCells
    fine : GroundBlocks
        From `streak_blocks`.
    record : RegionRecord
    gaps : Gaps, optional
        Ground read in the gaps of hatching.
    clouds : float
        Spread of bare paper between squares of `CLOUD_MM`, relative, as `Paper` has it; 0 where it is not known. [-]

    Returns
    -------
    dict
        Columns of `measurements`.
    Quality
        `GROUND_FROM_GAPS` when most of it comes from gaps, `TOO_LITTLE_GROUND` when there is too little of all.
    """
    pitch = record.box.pitch_mm
    film = film_cells(cells, gaps, record.box)
    known = np.isfinite(film.reflectance)
    far = cells.far_ground
    far_count = far.size
    ground_mm2 = (far_count + cells.only_near.size) * pitch**2
    gap_count = 0 if gaps is None else len(gaps.reflectance)
    if record.region.work == "tone" and ground_mm2 < GROUND_SHARE_OF_TEXTURE * record.area_mm2:
        return {}, Quality.TOO_LITTLE_GROUND
    if known.sum() < 2 and (ground_mm2 < GROUND_MM2_MIN or not known.any()):
        return {}, Quality.TOO_LITTLE_GROUND
    missing = 1 - float(film.area[known].sum() / max(film.area.sum(), 1e-9))
    if known.sum() < CELLS_OF_A_COURSE and missing > UNREAD_SHARE:
        return {}, Quality.TOO_LITTLE_GROUND
    from_gaps = ground_mm2 < max(GROUND_MM2_MIN, 0.02 * record.area_mm2) and gap_count > 0
    scatter = moments(far)[1] if far_count > 100 else GRAIN
    grain = scatter / np.sqrt(max((ground_mm2 + 0.02 * gap_count) / GRAIN_SPOT_MM2, 1.0))
    row = {"plate_tone_density": mean_film(film)}
    if known.sum() >= CELLS_OF_A_COURSE:
        plane, rest = plane_of(film)
        uneven = robust_sd(rest)
        row["plate_tone_unevenness_density"] = uneven
        course = np.full(known.shape, np.nan)
        course[known] = rest
        row["u_plate_tone_unevenness_density"] = u_course_spread(course, uneven, clouds / np.log(10))
        grain = combined(grain, np.log(10) * missing * uneven)
        rows, columns = np.nonzero(known)
        if min(np.ptp(rows), np.ptp(columns)) >= 2:
            row["plate_tone_slope_density_per_100mm"] = float(np.hypot(plane[1], plane[2]) * 100)
            row["plate_tone_slope_deg"] = float(np.degrees(np.arctan2(-plane[2], plane[1])) % 360)
    own = combined(U_GAP_DENSITY, gaps.u_density) if from_gaps and gaps is not None else 0.0
    row["u_plate_tone_density"] = combined(grain / np.log(10), own)
    if far_count * pitch**2 >= GROUND_MM2_MIN:
        row.update(_streaks(fine))
    return row, Quality.GROUND_FROM_GAPS if from_gaps else Quality.NONE


def _streaks(blocks: GroundBlocks) -> dict[str, float]:
    """Return the directional part of the film: spread of the means along the most streaky direction.

    For each direction the ground is averaged along it; streaks keep their contrast, grain does not. What an even
    texture leaves is known from the number of cells averaged, and from the middle of all directions.
    """
    known = blocks.number > 0.25 * blocks.side**2
    if known.sum() < 150:
        return {}
    small = np.where(known, blocks.mean, 0).astype(np.float32)
    slow = local_mean(small, known, STREAK_SLOW_MM / STREAK_CELL_MM)
    rest = -np.log10(np.maximum(small[known] / slow[known], 1e-3))
    rows, columns = np.nonzero(known)
    angles = np.arange(0, 180, 6)
    # Image rows run down, so a direction counter-clockwise as seen is (cos, -sin).
    directions = [(float(np.sin(turn)), float(np.cos(turn))) for turn in np.radians(angles)]
    variance = float(np.var(rest))
    power = [
        strip_power(columns, rows, sine, cosine, rest, STREAK_FEWEST, variance) for sine, cosine in directions
    ]
    best = int(np.argmax(power))
    excess = max(power[best] - max(float(np.median(power)), 0.0), 0.0)
    fine, course = robust_sd(rest), np.full(known.shape, np.nan)
    course[known] = rest
    return {
        "plate_tone_unevenness_fine_density": fine,
        "u_plate_tone_unevenness_fine_density": u_fine_spread(course, fine),
        "streak_density": float(np.sqrt(excess)),
        "streak_deg": float(angles[best]),
    }


def halo(cells: RegionCells, pitch_mm: float) -> float:
    """Return density of ground close to lines minus ground away from them; NaN when either is scarce. [D]

    Densities are those of the mean reflectance, stray cells left out.
    """
    close, away = cells.near_ground, cells.only_far
    if min(close.size, away.size) * pitch_mm**2 < GROUND_MM2_MIN:
        return float("nan")
    return float(density(trimmed_mean(close)) - density(trimmed_mean(away)))
