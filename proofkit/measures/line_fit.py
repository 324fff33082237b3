"""Lines and their neighbours fitted through the blur of the scan: width, depth and ground of every crossing."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from proofkit.arrays import FULL_SCALE, Floats, Mask, Points
from proofkit.laying.standard_lines import PARALLEL_SINE, StandardLines, smooth_along
from proofkit.laying.types import to_sheet_px
from proofkit.lines.crossings import TEN_NINETY_SIGMAS
from proofkit.lines.nearness_kernels import parallel_neighbours
from proofkit.measures.fit_kernels import PARAMETERS, fit_crossings
from proofkit.measures.types import LaidSheet, RegionRecord
from proofkit.reflectance import paper_level

GROUND, CENTRE, WIDTH, DEPTH, BLUR = range(PARAMETERS)

BESIDE_MM = 1.2
"""Lines further apart than this do not count as a ruling. [mm]"""

CLEAR_SIGMAS = 3.2
"""Pixels are used up to this many blur sigmas from the edge of a line that stands alone, and `STRIP_MM` more."""

STRIP_MM = 0.06
"""Strip of ground beside a line that holds its level. [mm]"""

ALONG_PX = (0.5, 1.0)
"""Pixels are used up to this far to both sides along the line: one or two rows of them carry a crossing. [px]"""

ALONG_SHARE = 0.3
"""... and about so much of the way to a line that crosses. [-]"""

ROUNDS = 12
"""Most steps of a fit; four to six are usual."""

BLUR_SIGMAS = 4.0
"""The blur is read from lines this many blur sigmas wide: narrower ones trade it for width and depth."""

BLUR_LINES = 200
"""Fewest crossings that tell a blur."""

SHARPEST_PERCENT = 30
"""The scan's own blur is that of the sharper edges, as ink and wiping soften the others. [%]"""

ALONG_A_LINE = 7
"""Half length of the stretch along a line over which its edges' blur is averaged. [crossings]"""

MOST_OF_A_REGION = 3000
"""Crossings fitted in a region; more add time but nothing that shows: a crossing's load scatters by 1 to 5 %."""

RUN = 4
"""Crossings in a row that are taken together where not all are fitted."""

USUAL_DEPTH = 0.93
"""1 - R/Rg of solid lines when a sheet has no broad one: density 1.15, dried black (common practice). [-]"""

DEPTH_SPREAD = 0.03
"""How far the depth of a line strays from that of the sheet's broad lines (choice of ours): a line of two blur sigmas
and less does not tell it, and its load hardly depends on it. [-]"""

BESIDE_POINTS = 4
"""Points to both sides over which a line's course is straightened to tell its distance from the next."""

SOLID_PERCENT = 10
"""The solid tone of a plate is the core of its darkest tenth of broad lines. [%]"""

U_USUAL_BLUR = 0.1
"""Relative standard uncertainty of a blur that no line tells (common practice: optics of 16 to 20 µm). [-]"""

U_BLUR_MODEL = 0.005
"""... and of one that was fitted, for edges that no normal describes (choice of ours). [-]"""

USUAL_NOISE = 0.01
"""Noise of a pixel where the margin does not tell it. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class BroadLines:
    """What the broad lines of a sheet say of the scan and of the ink."""

    blur_mm: float
    """Standard deviation of the blur of a line's edges: optics, pixel, and the usual softness of ink. [mm]"""
    u_blur: float
    """Its relative standard uncertainty. [-]"""
    sharpest_mm: float
    """Of the sharper edges: the scan's own blur. [mm]"""
    depth: float
    """1 - R/Rg, median. [-]"""
    solid: float
    """R/Rp of solid ink: the darker lines; NaN when there are no broad ones. [-]"""
    softness_um: Floats
    """(n,) 10-90 % distance of the edges, blur included; NaN for lines that are not broad. [µm]"""


@dataclass(frozen=True, slots=True, eq=False)
class LineFits:
    """What the fits say of each crossing of the standard's lines; (n,), NaN where a crossing cannot be fitted."""

    ground: Floats
    """R/Rp of the ground beside the line, the lines' own blur taken off. [-]"""
    offset_mm: Floats
    """Centre of the line from where the laying expects it. [mm]"""
    width_um: Floats
    """Width of the line before blur. [µm]"""
    depth: Floats
    """1 - R/Rg of the line before blur. [-]"""
    rest: Floats
    """Rms of what the fit leaves, R/Rp. [-]"""
    held: Floats
    """Share of what is known of the depth that comes from the broad lines, not from this line itself. [-]"""
    hatched: Mask
    """The line has a neighbour so near that their blurs overlap."""
    broad: BroadLines
    """What the broad lines said beforehand."""

    @property
    def load_um(self) -> Floats:
        """Width times depth. [µm]"""
        return np.asarray(self.width_um * self.depth)


@dataclass(frozen=True, slots=True, eq=False)
class _Places:
    """Where and with what the crossings of a sheet are fitted."""

    centres: Points
    across: Points
    along: Points
    level: Floats
    window: Points
    half_along: Floats
    """(n,) how far to both sides along the line pixels are used. [px]"""
    neighbours: Floats
    """(n, 4) distance [mm] and width as a share of the line's own, of both neighbours."""


@lru_cache(maxsize=2)
def neighbour_distances(lines: StandardLines) -> tuple[Points, Points]:
    """Return (n, 2) distance and relative width of the line on each side; infinite and 1 for none. [mm], [-]

    The nearest point beside says which line is the neighbour; its distance is where a straight line through
    `BESIDE_POINTS` points to both sides of it meets the normal, since single points stray by a few µm.
    """
    x, y = (np.ascontiguousarray(lines.lines.points_mm[:, a]) for a in (0, 1))
    normals = _smooth_normals(lines)
    nx, ny = (np.ascontiguousarray(normals[:, a]) for a in (0, 1))
    side, point = parallel_neighbours(x, y, nx, ny, lines.lines.line, 0.25, BESIDE_MM, PARALLEL_SINE)
    width = lines.spans.width_mm
    share = np.where(point >= 0, width[np.maximum(point, 0)] / width[:, None], 1.0)
    for column in range(2):
        known = np.flatnonzero(point[:, column] >= 0)
        side[known, column] = _distance(lines, normals, known, point[known, column], side[known, column])
    return side, share


def _smooth_normals(lines: StandardLines) -> Points:
    """Return the normals of the lines, averaged over `BESIDE_POINTS` points to both sides. Shape (n, 2)."""
    number, n = lines.lines.line, lines.lines.size
    total = np.zeros((n, 2))
    for step in range(-BESIDE_POINTS, BESIDE_POINTS + 1):
        at = np.clip(np.arange(n) + step, 0, max(n - 1, 0))
        total += np.where((number[at] == number)[:, None], lines.lines.normals[at], 0.0)
    return np.asarray(total / np.maximum(np.linalg.norm(total, axis=1), 1e-9)[:, None])


def _distance(
    lines: StandardLines, normals: Points, index: np.ndarray, beside: np.ndarray, rough: Floats
) -> Floats:
    """Return the distance of points `index` from the lines of points `beside`, along their normals. [mm]"""
    steps = np.arange(-BESIDE_POINTS, BESIDE_POINTS + 1)
    at = np.clip(beside[:, None] + steps, 0, lines.lines.size - 1)
    weight = (lines.lines.line[at] == lines.lines.line[beside][:, None]).astype(np.float64)
    apart = lines.lines.points_mm[at] - lines.lines.points_mm[index][:, None, :]
    normal = normals[index][:, None, :]
    across = (apart * normal).sum(axis=2)
    along = apart[..., 0] * normal[..., 1] - apart[..., 1] * normal[..., 0]
    count = weight.sum(axis=1)
    mean_along, mean_across = (weight * along).sum(axis=1) / count, (weight * across).sum(axis=1) / count
    spread = (weight * (along - mean_along[:, None]) ** 2).sum(axis=1)
    slope = (weight * (along - mean_along[:, None]) * across).sum(axis=1) / np.maximum(spread, 1e-12)
    found = np.abs(mean_across - slope * mean_along)
    # A line that ends or bends sharply there is left at the distance of its nearest point.
    return np.where((count > BESIDE_POINTS) & (np.abs(found - rough) < 0.2 * rough), found, rough)


def chosen_crossings(records: tuple[RegionRecord, ...], lines: StandardLines) -> Mask:
    """Return which crossings are fitted: all clear ones of the regions of line work, up to `MOST_OF_A_REGION` of each.

    Of more, short runs at even distances are taken: neighbours on a line tell the noise and the edge's course.
    """
    chosen = np.zeros(lines.lines.size, dtype=np.bool_)
    for record in records:
        if record.region.work in {"lines", "drypoint"}:
            points = record.points[lines.clear[record.points]]
            every = max(-(-len(points) // MOST_OF_A_REGION), 1)
            chosen[points[(np.arange(len(points)) // RUN) % every == 0]] = True
    return chosen


def drypoint_lines(records: tuple[RegionRecord, ...], lines: StandardLines) -> Mask:
    """Return which points lie in regions of drypoint."""
    found = np.zeros(lines.lines.size, dtype=np.bool_)
    for record in records:
        if record.region.work == "drypoint":
            found[record.points] = True
    return found


def fit_sheet(sheet: LaidSheet, lines: StandardLines, chosen: Mask, drypoint: Mask) -> LineFits:
    """Return the fits of crossings of a sheet.

    Parameters
    ----------
    sheet : LaidSheet
    lines : StandardLines
    chosen : Mask
        (n,) crossings to fit.
    drypoint : Mask
        (n,) lines whose burr prints a skirt: they are fitted against the skirt close by.

    Notes
    -----
    The reflectance across a line is modelled as ``G (1 - d B)``: ground G, depth d, and B the sum of the line's bar and
    of its neighbours' bars, blurred. Neighbours keep the standard's distances and relative widths. Pixels enter as they
    are, at their own distance from the line: interpolated profiles lose 3 % of the contrast of five pixel hatching.

    First the blur is fitted on lines at least four blur sigmas wide, together with all else; its median then serves all
    lines. Depth is held near that of the broad lines by a prior of `DEPTH_SPREAD`, since a line of about the blur's
    width shows only the product of width and depth.
    """
    broad = fit_broad(sheet, lines, drypoint)
    noise = sheet.paper.noise if np.isfinite(sheet.paper.noise) else USUAL_NOISE
    places = _places(sheet, lines, broad.blur_mm, drypoint)
    used = np.flatnonzero(chosen)
    start = _start(lines, used, broad.blur_mm, broad.depth)
    found = _fit(sheet, places, used, start, (1, 1, 1, 1, 0), noise / DEPTH_SPREAD)
    full = np.full((lines.lines.size, found.shape[1]), np.nan)
    full[used] = found
    return LineFits(
        ground=full[:, GROUND],
        offset_mm=full[:, CENTRE],
        width_um=full[:, WIDTH] * 1000,
        depth=full[:, DEPTH],
        rest=full[:, PARAMETERS],
        held=full[:, PARAMETERS + 2],
        hatched=np.isfinite(lines.spans.gap_left_mm) | np.isfinite(lines.spans.gap_right_mm),
        broad=broad,
    )


def fit_broad(sheet: LaidSheet, lines: StandardLines, drypoint: Mask) -> BroadLines:
    """Return blur and solid ink of a sheet from its broad lines; what is usual where there are too few.

    Parameters are those of `fit_sheet`.
    """
    number = lines.lines.line
    softness = np.full(lines.lines.size, np.nan)
    usual = BroadLines(sheet.blur_mm, U_USUAL_BLUR, sheet.blur_mm, USUAL_DEPTH, float("nan"), softness)
    index = np.flatnonzero(lines.clear & ~drypoint & (lines.spans.width_mm > BLUR_SIGMAS * sheet.blur_mm))
    index = index[:: max(len(index) // MOST_OF_A_REGION, 1)]
    if len(index) < BLUR_LINES:
        return usual
    start = _start(lines, index, sheet.blur_mm, USUAL_DEPTH)
    places = _places(sheet, lines, sheet.blur_mm, drypoint)
    found = _fit(sheet, places, index, start, (1, 1, 1, 1, 1), 0.0)
    blurs = smooth_along(found[:, BLUR], number[index], ALONG_A_LINE)
    solids = smooth_along(found[:, GROUND] * (1 - found[:, DEPTH]), number[index], ALONG_A_LINE)
    known = np.isfinite(blurs)
    if known.sum() < BLUR_LINES:
        return usual
    blur = float(np.median(blurs[known]))
    spread = 1.4826 * float(np.median(np.abs(blurs[known] / blur - 1)))
    stretches = max(known.sum() / (2 * ALONG_A_LINE + 1), 2.0)
    softness[index] = TEN_NINETY_SIGMAS * 1000 * found[:, BLUR]
    return BroadLines(
        blur_mm=blur,
        u_blur=float(np.hypot(1.253 * spread / np.sqrt(stretches), U_BLUR_MODEL)),
        sharpest_mm=float(np.percentile(blurs[known], SHARPEST_PERCENT)),
        depth=float(np.clip(np.nanmedian(found[:, DEPTH]), 0.3, 0.99)),
        solid=float(np.percentile(solids[known], SOLID_PERCENT)),
        softness_um=softness,
    )


def _start(lines: StandardLines, index: np.ndarray, blur_mm: float, depth: float) -> Floats:
    """Return the starting values of the fits, (n, 5)."""
    start = np.empty((len(index), PARAMETERS))
    start[:, GROUND] = 0.9
    start[:, CENTRE] = 0.0
    start[:, WIDTH] = lines.spans.width_mm[index]
    start[:, DEPTH] = depth
    start[:, BLUR] = blur_mm
    return start


def _places(sheet: LaidSheet, lines: StandardLines, blur_mm: float, drypoint: Mask) -> _Places:
    """Return where the crossings lie on a sheet, and which pixels tell of each."""
    points, normals = lines.lines.points_mm, lines.lines.normals
    tangents = np.column_stack((-normals[:, 1], normals[:, 0]))
    centres = to_sheet_px(sheet.laying, points)
    along = _step(sheet, points, tangents)
    along = along / np.maximum(np.linalg.norm(along, axis=1), 1e-9)[:, None]
    width = lines.spans.width_mm
    side, share = neighbour_distances(lines)
    alone = width / 2 + CLEAR_SIGMAS * blur_mm + STRIP_MM
    skirted = np.maximum(alone, np.maximum(lines.spans.left_mm, lines.spans.right_mm) + STRIP_MM)
    alone = np.where(drypoint, alone, skirted)
    # A neighbour matters when its blur reaches the strip of ground; then the window ends at its middle.
    reach = alone[:, None] + width[:, None] * share / 2 + CLEAR_SIGMAS * blur_mm
    distance = np.where(side < reach, side, np.inf)
    window = np.minimum(np.where(np.isfinite(distance), distance, np.inf), alone[:, None])
    near = np.isfinite(distance) & (distance < alone[:, None] + width[:, None] * share / 2)
    window = np.where(near, distance, window) * (-1.0, 1.0)
    return _Places(
        centres=centres,
        across=_step(sheet, points, lines.across_mm),
        along=along,
        level=paper_level(sheet.paper, centres[:, 0], centres[:, 1]) * FULL_SCALE,
        window=window,
        half_along=half_along_mm(sheet, lines) / pixel_mm(sheet),
        neighbours=np.column_stack((distance, share)),
    )


def pixel_mm(sheet: LaidSheet) -> float:
    """Return the side of a pixel of a sheet's scan. [plate mm]"""
    return 1 / float(np.sqrt(abs(np.linalg.det(sheet.laying.affine[:, :2]))))


def half_along_mm(sheet: LaidSheet, lines: StandardLines) -> Floats:
    """Return how far to both sides along its line each crossing takes its pixels from. Shape (n,). [mm]"""
    px_mm = pixel_mm(sheet)
    return np.clip(ALONG_SHARE * lines.apart_mm, ALONG_PX[0] * px_mm, ALONG_PX[1] * px_mm)


def _step(sheet: LaidSheet, points_mm: Points, direction: Points) -> Points:
    """Return what one plate millimetre along a direction is in the scan. [px/mm]"""
    h = 0.1
    ahead = to_sheet_px(sheet.laying, points_mm + h * direction)
    return np.asarray((ahead - to_sheet_px(sheet.laying, points_mm - h * direction)) / (2 * h))


def _fit(
    sheet: LaidSheet,
    places: _Places,
    index: np.ndarray,
    start: Floats,
    free: tuple[int, ...],
    depth_prior: float,
) -> Floats:
    """Return the fits of some crossings, one row each; see `fit_crossings`."""
    # Fourth cumulant of a square pixel, -px^4 / 120 along its sides, averaged over all directions (3/4).
    excess = -0.75 * pixel_mm(sheet) ** 4 / 120 / float(start[0, BLUR]) ** 4 if len(start) else 0.0
    return fit_crossings(
        sheet.scan.plane,
        places.centres[index],
        places.across[index],
        places.along[index],
        places.level[index],
        places.window[index],
        places.neighbours[index],
        start,
        np.array(free, dtype=np.float64),
        places.half_along[index],
        ROUNDS,
        excess,
        depth_prior,
    )
