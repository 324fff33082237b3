"""What the standard says of each region, made once for an edition."""

from dataclasses import replace

import numpy as np
from shapely import contains_xy

from proofkit.arrays import Index, Points, packed
from proofkit.edition import TONE_PITCH_MM
from proofkit.folder.edition import Region
from proofkit.laying.standard_lines import StandardLines
from proofkit.laying.types import to_sheet_px
from proofkit.measures.close_work import CloseWork
from proofkit.measures.ground import ground_masks
from proofkit.measures.line_directions import line_geometry
from proofkit.measures.raster import code_box, inside_mask, reflectance_picture, reflectances, region_box
from proofkit.measures.region_cells import tally_of
from proofkit.measures.tone import tone_histogram
from proofkit.measures.types import LaidSheet, RegionRecord

FINEST_CELL_MM, COARSEST_CELL_MM = 0.02, 0.065
"""Cells of a region are about a pixel of the standard, within these bounds. [mm]"""


def cell_mm(sheet: LaidSheet) -> float:
    """Return the side of the cells in which regions are read: a pixel of the standard's scan. [mm]"""
    per_mm = sheet.laying.px_per_mm
    return float(np.clip(1 / per_mm, FINEST_CELL_MM, COARSEST_CELL_MM))


def region_record(
    region: Region,
    standard: LaidSheet,
    lines: StandardLines,
    plate_mm: tuple[float, float],
    too_close: CloseWork,
) -> RegionRecord:
    """Return what the standard says of a region.

    Parameters
    ----------
    region : Region
    standard : LaidSheet
        The standard laid on itself.
    lines : StandardLines
    plate_mm : tuple
        Width and height of the plate. [mm]
    too_close : CloseWork
        Where the standard's scan does not resolve its line work: there is no ground to be told there either.
    """
    box = region_box(region.outline_mm, cell_mm(standard))
    inside = inside_mask(region.outline_mm, box)
    coded = code_box(standard.scan, standard.paper, standard.laying, box)
    picture = reflectances(coded)
    far, near = ground_masks(
        lines, picture, inside, box, region.work, blur_mm=standard.blur_mm, plate_mm=plate_mm
    )
    open_cells = ~too_close.cells(standard.laying, box)
    xy = lines.lines.points_mm
    points = (
        np.flatnonzero(contains_xy(region.outline_mm, xy[:, 0], xy[:, 1]))
        if len(xy)
        else np.empty(0, np.intp)
    )
    width = lines.spans.width_mm[points]
    low, high = np.percentile(width, (100 / 3, 200 / 3)) if len(points) else (0.0, 0.0)
    values = standard.crossings
    known = inside & np.isfinite(picture)
    record = RegionRecord(
        region=region,
        box=box,
        inside_bits=packed(known),
        far_bits=packed(far & open_cells),
        near_bits=packed(near & open_cells),
        cells=int(np.count_nonzero(known)),
        points=points,
        close=too_close.at(to_sheet_px(standard.laying, xy[points])),
        fine=width <= low,
        broad=width >= high,
        area_mm2=float(region.outline_mm.area),
        histogram=tone_histogram(tally_of(np.bincount(coded.codes[known]), coded.unit)),
        coarse=np.empty((0, 0), dtype=np.float32),
        geometry=(),
        gap_contrast=values.gap_reflectance[points] - values.core_reflectance[points],
    )
    geometry = (
        line_geometry(record, lines, ink_centres(standard, lines, points))
        if len(points) and not record.mostly_close
        else {}
    )
    return replace(record, coarse=coarse_cells(record, standard), geometry=tuple(geometry.items()))


def ink_centres(standard: LaidSheet, lines: StandardLines, points: Index) -> Points:
    """Return where the ink of crossings has its middle on the standard; their points of the line where not clear."""
    offset = np.where(lines.clear[points], np.nan_to_num(standard.crossings.offset_mm[points]), 0.0)
    return lines.lines.points_mm[points] + offset[:, None] * lines.across_mm[points]


def coarse_cells(record: RegionRecord, sheet: LaidSheet) -> np.ndarray:
    """Return the coarse cells of a region on a sheet; NaN outside the outline."""
    box = region_box(record.region.outline_mm, TONE_PITCH_MM)
    picture = reflectance_picture(sheet.scan, sheet.paper, sheet.laying, box)
    picture[~inside_mask(record.region.outline_mm, box)] = np.nan
    return picture
