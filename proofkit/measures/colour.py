"""Colour of ink and film on a sheet, told from the small colour overview of its scan."""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Index, Points
from proofkit.laying.standard_lines import StandardLines
from proofkit.laying.types import to_sheet_px
from proofkit.measures.cell_kernels import open_squares
from proofkit.measures.types import LaidSheet, RegionRecord
from proofkit.reflectance import paper_level
from proofkit.reflectance.colour import delta_e_2000, lab_from_ratio, ratio_from_lab
from proofkit.reflectance.profile import rgb_to_xyz

BLOCKS_MIN = 40
"""Fewest blocks of the overview that make a colour: grain and noise of a block are about 1 %, which leaves 0.2 %."""

MOST_PLACES = 20_000
"""So many places, evenly taken, tell a colour: what a block is off by goes down by a hundred."""

DARK_SPAN = 0.15
"""Least span of luminance among the darker half of the blocks from which they alone tell the ink. [-]"""

SPAN_MIN = 0.05
"""Least span of luminance over which a colour can be followed from the ground into the ink. [-]"""

NO_COLOUR = (float("nan"),) * 3


@dataclass(frozen=True, slots=True)
class SheetColour:
    """Colours of a sheet; NaN where they cannot be had."""

    paper: tuple[float, float, float]
    """CIE L*a*b* of bare paper against the scanner's white."""
    ink: tuple[float, float, float]
    """CIE L*a*b* of the core of solid lines against the same scan's bare paper."""
    film: tuple[float, float, float]
    """CIE L*a*b* of filmed ground against the same scan's bare paper."""


def sheet_colour(
    sheet: LaidSheet, records: tuple[RegionRecord, ...], lines: StandardLines, solid: float
) -> SheetColour:
    """Return the colours of paper, ink and film.

    Parameters
    ----------
    sheet : LaidSheet
    records : tuple of RegionRecord
        Where the standard has unworked ground.
    lines : StandardLines
    solid : float
        R/Rp of solid ink on this sheet. [-]

    Returns
    -------
    SheetColour
        Grey scans have a lightness but no tint, so theirs is NaN throughout.

    Notes
    -----
    Ink and film are told against bare paper of the same scan (paper has L* 100, a* = b* = 0), so that lamp, exposure
    and the paper's own tint drop out, as they do from densities above bare paper.

    A block of the overview over lines is a mixture of ink and ground, and mixtures lie on a straight line in linear
    light, whatever the blur. So X and Z against Y of all blocks over lines are fitted by straight lines, and read at
    the Y of solid ink. Where blocks are dark enough the darker half alone is used: thin edges of ink bend the line.
    """
    scan = sheet.scan
    if scan.file.channels != 3:
        return SheetColour((sheet.paper.lab[0], float("nan"), float("nan")), NO_COLOUR, NO_COLOUR)
    return SheetColour(
        sheet.paper.lab, _ink(_blocks_at(sheet, lines.lines.points_mm), solid), _film(sheet, records)
    )


def colour_difference(one: tuple[float, float, float], other: tuple[float, float, float]) -> float:
    """Return CIEDE2000 between two colours; NaN when one is not known."""
    return float(delta_e_2000(one, other)) if np.isfinite([*one, *other]).all() else float("nan")


def _block_ratios(sheet: LaidSheet, rows: Index, columns: Index) -> Floats:
    """Return XYZ of some blocks of the overview against bare paper at their place. Shape (n, 3)."""
    scan = sheet.scan
    middle = (scan.overview_step - 1) / 2
    y, x = (np.asarray(at * scan.overview_step + middle, dtype=np.float64) for at in (rows, columns))
    level = paper_level(sheet.paper, x, y) / max(sheet.paper.luminance, 1e-6)
    matrix = rgb_to_xyz(scan)
    paper = ratio_from_lab(sheet.paper.lab) * matrix.sum(axis=1)
    return np.asarray((scan.overview[rows, columns] @ matrix.T) / paper / level[:, None])


def _blocks_at(sheet: LaidSheet, points_mm: Points) -> Floats:
    """Return XYZ against paper of the blocks that hold points of the plate, each once. Shape (n, 3)."""
    scan = sheet.scan
    rows, columns = scan.overview.shape[:2]
    thinned = points_mm[:: max(len(points_mm) // MOST_PLACES, 1)]
    at = np.floor((to_sheet_px(sheet.laying, thinned) + 0.5) / scan.overview_step).astype(np.intp)
    at = at[((at >= 0) & (at < (columns, rows))).all(axis=1)]
    held = np.zeros((rows, columns), dtype=np.bool_)
    held[at[:, 1], at[:, 0]] = True
    return _block_ratios(sheet, *np.nonzero(held))


def _ink(blocks: Floats, solid: float) -> tuple[float, float, float]:
    """Return the colour of solid ink from blocks (n, 3) that hold ink and ground."""
    if len(blocks) < BLOCKS_MIN or not np.isfinite(solid):
        return NO_COLOUR
    y = blocks[:, 1]
    darker = y <= np.median(y)
    if np.ptp(np.percentile(y[darker], (2, 98))) >= DARK_SPAN:
        blocks, y = blocks[darker], y[darker]
    if np.ptp(np.percentile(y, (2, 98))) < SPAN_MIN:
        return NO_COLOUR
    order = np.argsort(y, kind="stable")
    x, z = (_at(y, blocks[:, axis], solid, order) for axis in (0, 2))
    ratio = np.array([x, solid, z])
    return _lab(np.maximum(ratio, 0.0))


def _at(y: Floats, other: Floats, wanted: float, order: Index) -> float:
    """Return the straight line through blocks at `wanted`; the median of slopes and of offsets, so specks count little.

    Slopes are taken between blocks of the dark and of the light third (after Wald 1940, whose groups are halves);
    `order` sorts the blocks by `y`.
    """
    third = max(len(y) // 3, 1)
    low, high = order[:third], order[-third:]
    slope = (np.mean(other[high]) - np.mean(other[low])) / (np.mean(y[high]) - np.mean(y[low]))
    return float(np.median(other - slope * y) + slope * wanted)


def _film(sheet: LaidSheet, records: tuple[RegionRecord, ...]) -> tuple[float, float, float]:
    """Return the colour of unworked ground, the median over blocks that lie wholly in it."""
    blocks = _blocks_at(sheet, np.concatenate([np.empty((0, 2)), *(_open_mm(sheet, one) for one in records)]))
    return _lab(np.median(blocks, axis=0)) if len(blocks) >= BLOCKS_MIN else NO_COLOUR


def _open_mm(sheet: LaidSheet, record: RegionRecord) -> Points:
    """Return places of a region's far ground about which a block of the overview lies wholly in it. (n, 2) [mm]"""
    box, block = record.box, sheet.scan.overview_step / sheet.laying.px_per_mm / record.box.pitch_mm
    # A block may lie anywhere about the place, at any angle: its diagonal on each side is enough.
    rows, columns = open_squares(
        record.far_bits, box.columns, int(np.ceil(0.71 * block)) + 1, max(int(block / 2), 1)
    )
    return np.column_stack((box.x0_mm + columns * box.pitch_mm, box.y0_mm + rows * box.pitch_mm))


def _lab(ratio: Floats) -> tuple[float, float, float]:
    lightness, a, b = lab_from_ratio(ratio).tolist()
    return lightness, a, b
