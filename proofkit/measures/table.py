"""All measures of all regions of one laid sheet, as rows of the tables."""

from typing import NamedTuple

import numpy as np

from proofkit.laying.standard_lines import StandardLines
from proofkit.measures.colour import SheetColour, sheet_colour
from proofkit.measures.line_fit import (
    BroadLines,
    chosen_crossings,
    drypoint_lines,
    fit_broad,
    fit_sheet,
    half_along_mm,
    pixel_mm,
)
from proofkit.measures.lines import CROSSINGS_MIN, LineWork, area_fraction, gap_ground, line_measures
from proofkit.measures.plate_tone import film_measures, halo
from proofkit.measures.raster import reflectance_cells, saturated_share
from proofkit.measures.records import coarse_cells
from proofkit.measures.tone import Counts, coarse_measures, tone_measures
from proofkit.measures.types import LaidSheet, RegionRecord
from proofkit.quality import Quality, words
from proofkit.units import density

SATURATED_SHARE = 0.02
"""Share of cells at the white end from which a region counts as saturated. [-]"""

INSIDE_SHARE = 0.98
"""Share of a region that must lie on the scan. [-]"""

DARKEST_PERCENT = 2
"""Where no line is broad the solid tone is that of the darkest crossings. [%]"""


def solid_reflectance(sheet: LaidSheet, lines: StandardLines, broad: BroadLines) -> float:
    """Return R/Rp of solid ink on a sheet: its broad dark lines, else the darkest of all; NaN when there are none."""
    if np.isfinite(broad.solid):
        return broad.solid
    core = sheet.crossings.core_reflectance[lines.clear & np.isfinite(sheet.crossings.core_reflectance)]
    return float(np.percentile(core, DARKEST_PERCENT)) if len(core) >= CROSSINGS_MIN else float("nan")


class Measured(NamedTuple):
    """What is measured on the regions of a sheet."""

    rows: list[dict[str, object]]
    """A row of `measurements` for each region."""
    histograms: dict[str, Counts]
    """Region -> counts of its density histogram."""
    broad: BroadLines
    solid: float
    """R/Rp of solid ink. [-]"""


def colour_of(sheet: LaidSheet, records: tuple[RegionRecord, ...], lines: StandardLines) -> SheetColour:
    """Return the colour of paper, ink and film of a sheet."""
    broad = fit_broad(sheet, lines, drypoint_lines(records, lines))
    return sheet_colour(sheet, records, lines, solid_reflectance(sheet, lines, broad))


def measure_regions(
    sheet: LaidSheet, records: tuple[RegionRecord, ...], lines: StandardLines, flags: Quality
) -> Measured:
    """Return a row of `measurements` and a histogram for each region, and what its broad lines say of the sheet.

    Parameters
    ----------
    sheet : LaidSheet
    records : tuple of RegionRecord
    lines : StandardLines
    flags : Quality
        Of the whole sheet; passed on to each row.
    """
    fits = fit_sheet(sheet, lines, chosen_crossings(records, lines), drypoint_lines(records, lines))
    solid = solid_reflectance(sheet, lines, fits.broad)
    work = LineWork(lines, sheet.crossings, fits, pixel_mm(sheet), half_along_mm(sheet, lines))
    rows: list[dict[str, object]] = []
    histograms = {}
    for record in records:
        values, counts, quality = _measure_region(sheet, record, work, solid)
        histograms[record.region.name] = counts
        rows.append(
            {
                "region": record.region.name,
                "work": record.region.work,
                "quality": words(quality | flags),
                **{name: value for name, value in values.items() if np.isfinite(value)},
            }
        )
    return Measured(rows, histograms, fits.broad, solid)


def _measure_region(
    sheet: LaidSheet, record: RegionRecord, work: LineWork, solid: float
) -> tuple[dict[str, float], Counts, Quality]:
    """Return the measures of one region, its histogram and what limits it."""
    picture = reflectance_cells(sheet.scan, sheet.paper, sheet.laying, record.box)
    inside = record.inside & np.isfinite(picture)
    quality = Quality.NONE
    if inside.sum() < INSIDE_SHARE * record.inside.sum():
        quality |= Quality.OUTSIDE_SHEET
    pixels = picture[inside]
    row, counts = tone_measures(pixels, record.histogram)
    if not len(pixels):
        return row, counts, quality
    row["u_tone_fraction"] = float((1 - row["tone_fraction"]) * sheet.paper.u_level)
    if saturated_share(sheet.scan, pixels, sheet.paper) > SATURATED_SHARE:
        quality |= Quality.SATURATED
    row.update(coarse_measures(coarse_cells(record, sheet), record.coarse))
    is_drawn = record.region.work in {"lines", "drypoint"}
    # In drypoint the gaps lie under the burr's skirt and tell nothing of the film.
    hatched = record.region.work == "lines"
    gaps = gap_ground(record, work) if hatched else None
    film, film_quality = film_measures(picture, record, gaps, sheet.paper.u_level)
    row.update(film)
    if is_drawn:
        drawn, line_quality = line_measures(record, work)
        row.update(drawn)
        quality |= line_quality
        row["halo_density"] = halo(picture, record.far, record.near, record.box.pitch_mm)
        between = density(float(np.median(gaps.reflectance))) if gaps is not None else np.nan
        row["ground_between_lines_density"] = float(between)
        ground = 10 ** -(float(between) if gaps is not None else row.get("plate_tone_density", float("nan")))
        if len(record.points):
            row["line_area_fraction"] = area_fraction(float(np.mean(pixels, dtype=np.float64)), ground, solid)
    return row, counts, quality | film_quality
