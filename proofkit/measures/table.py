"""All measures of all regions of one laid sheet, as rows of the tables."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from shapely.geometry import LinearRing

from proofkit.arrays import Points
from proofkit.laying.standard_lines import StandardLines
from proofkit.measures.broad_lines import BroadLines, fit_broad
from proofkit.measures.burr import burr_measures
from proofkit.measures.chosen import DRAWN, crossings_to_fit
from proofkit.measures.clouds import under_clouds
from proofkit.measures.colour import SheetColour, sheet_colour
from proofkit.measures.film_cells import Gaps
from proofkit.measures.fit_places import pixel_mm
from proofkit.measures.gaps import gap_ground
from proofkit.measures.line_area import area_measure
from proofkit.measures.line_fit import drypoint_lines, fit_sheet, region_numbers
from proofkit.measures.line_work import CROSSINGS_MIN, LineWork, RegionLines
from proofkit.measures.lines import hatching_of, held_depth, line_measures
from proofkit.measures.outline_light import mean_inside
from proofkit.measures.plate_tone import U_GAP_DENSITY, film_measures, halo, streak_blocks
from proofkit.measures.records import coarse_cells
from proofkit.measures.region_cells import Counts, RegionCells, Tally, region_cells
from proofkit.measures.specks import Speck, Specks, find_specks
from proofkit.measures.statistics import moments
from proofkit.measures.tone import (
    FAINTEST,
    PERCENTILES,
    ToneSlopes,
    coarse_measures,
    tone_measures,
    tone_slopes,
)
from proofkit.measures.types import LaidSheet, RegionRecord
from proofkit.measures.uncertainty import (
    Calibration,
    Situation,
    combined,
    curve_uncertainty,
    quantisation,
    u_of_code,
    with_calibration,
)
from proofkit.quality import Quality, words
from proofkit.reflectance.types import Paper
from proofkit.scatter import MEDIAN_FACTOR, robust_sd
from proofkit.units import density

SHIFT_ALIKE_MM = 3.0
"""Length along a region's outline over which it lies off by the same: pixels of a sheet turned by 0.8 degree fall into
step with the region's cells again after 70 of them, and layings stray more slowly (choice of ours). [mm]"""

SATURATED_SHARE = 0.02
"""Share of cells at the white end from which a region counts as saturated. [-]"""

SATURATED_FROM = 0.999
"""Share of the scanner's white from which a cell is at its end. [-]"""

INSIDE_SHARE = 0.98
"""Share of a region that must lie on the scan. [-]"""

DARKEST_PERCENT = 2
"""Where no line is broad the solid tone is that of the darkest crossings. [%]"""


def solid_reflectance(sheet: LaidSheet, lines: StandardLines, broad: BroadLines) -> float:
    """Return R/Rp of solid ink on a sheet: its broad dark lines, else the darkest of all; NaN when there are none."""
    if np.isfinite(broad.solid):
        return broad.solid
    core = sheet.crossings.core_reflectance[lines.clear]
    core = core[np.isfinite(core)]
    return float(np.percentile(core, DARKEST_PERCENT)) if len(core) >= CROSSINGS_MIN else float("nan")


class Measured(NamedTuple):
    """What is measured on the regions of a sheet."""

    rows: list[dict[str, object]]
    """A row of `measurements` for each region."""
    histograms: dict[str, Counts]
    """Region -> counts of its density histogram."""
    specks: list[tuple[str, Speck]]
    """Region and speck."""
    broad: BroadLines
    solid: float
    """R/Rp of solid ink. [-]"""


def colour_of(sheet: LaidSheet, records: tuple[RegionRecord, ...], lines: StandardLines) -> SheetColour:
    """Return the colour of paper, ink and film of a sheet."""
    broad = fit_broad(sheet, lines, drypoint_lines(records, lines))
    return sheet_colour(sheet, records, lines, solid_reflectance(sheet, lines, broad))


class Fitted(NamedTuple):
    """What the lines of a sheet say together, before its regions are measured one by one."""

    work: LineWork
    broad: BroadLines
    solid: float
    """R/Rp of solid ink. [-]"""


class MeasuredRegion(NamedTuple):
    """What is measured on one region."""

    row: dict[str, float]
    histogram: Counts
    quality: Quality
    specks: list[Speck]


def fit_regions(sheet: LaidSheet, records: tuple[RegionRecord, ...], lines: StandardLines) -> Fitted:
    """Return the fits of all lines of a sheet, and its solid tone."""
    fits = fit_sheet(
        sheet,
        lines,
        crossings_to_fit(records, lines),
        drypoint_lines(records, lines),
        region_numbers(records, lines),
    )
    work = LineWork(lines, sheet.crossings, fits, pixel_mm(sheet))
    return Fitted(work, fits.broad, solid_reflectance(sheet, lines, fits.broad))


def in_tables(
    records: tuple[RegionRecord, ...], found: Sequence[MeasuredRegion], fitted: Fitted, flags: Quality
) -> Measured:
    """Return rows and histograms of all regions, and what the broad lines say of the sheet.

    Parameters
    ----------
    records : tuple of RegionRecord
    found : sequence of MeasuredRegion
        One for each record.
    fitted : Fitted
    flags : Quality
        Of the whole sheet; passed on to each row.
    """
    rows: list[dict[str, object]] = []
    histograms = {}
    specks: list[tuple[str, Speck]] = []
    for record, region in zip(records, found, strict=True):
        histograms[record.region.name] = region.histogram
        specks += [(record.region.name, speck) for speck in region.specks]
        rows.append(
            {
                "region": record.region.name,
                "work": record.region.work,
                "quality": words(region.quality | flags),
                **{name: value for name, value in region.row.items() if np.isfinite(value)},
            }
        )
    return Measured(rows, histograms, specks, fitted.broad, fitted.solid)


def measure_region(sheet: LaidSheet, record: RegionRecord, fitted: Fitted) -> MeasuredRegion:
    """Return the measures of one region, its histogram, what limits it, and its specks."""
    work = fitted.work
    cells = region_cells(sheet, record)
    quality = Quality.NONE
    tally = cells.known
    if tally.size < INSIDE_SHARE * record.cells:
        quality |= Quality.OUTSIDE_SHEET
    row, counts = tone_measures(tally, _mean_light(sheet, record, tally), record.histogram)
    if not tally.size:
        return MeasuredRegion(row, counts, quality, [])
    at = sheet.paper.luminance, sheet.scan.file.bits
    row |= {f"u_{name}": u_of_code(row[name], *at) for name in PERCENTILES if name in row}
    row["u_tone_fraction"] = _shifted_outline(sheet, record, cells, row["tone_fraction"])
    if _saturated_share(tally, sheet.paper) > SATURATED_SHARE:
        quality |= Quality.SATURATED
    row.update(coarse_measures(coarse_cells(record, sheet), record.coarse))
    is_drawn = record.region.work in DRAWN
    # In drypoint the gaps lie under the burr's skirt and tell nothing of the film.
    hatched = record.region.work == "lines"
    lines = RegionLines(record, work)
    gaps = gap_ground(lines) if hatched else None
    fine = streak_blocks(cells, record.box.pitch_mm)
    film, film_quality = film_measures(cells, fine, record, gaps, sheet.paper.clouds)
    row.update(film)
    unfit = record.region.work == "tone" and not film
    specks = Specks({}, []) if unfit else find_specks(cells, fine, record)
    row.update(specks.row)
    if record.region.work == "drypoint":
        film_density = row.get("plate_tone_density", float("nan"))
        row.update(burr_measures(sheet, record, work.lines, work.fits, film_density))
    if is_drawn:
        drawn, line_quality = line_measures(lines)
        row.update(drawn)
        quality |= line_quality
        row["halo_density"] = halo(cells, record.box.pitch_mm)
        between = density(float(np.median(gaps.reflectance))) if gaps is not None else np.nan
        row["ground_between_lines_density"] = float(between)
        if gaps is not None:
            row["u_ground_between_lines_density"] = combined(_of_gaps(gaps), U_GAP_DENSITY, gaps.u_density)
    quality |= film_quality
    situation = _situation(sheet, lines, quality, row, tone_slopes(counts))
    area: dict[str, float] = {}
    if is_drawn and len(record.points):
        area = area_measure(lines, 1 - row["tone_fraction"], fitted.solid, row, situation)
    row |= with_calibration(row, situation) | area
    return MeasuredRegion(row, counts, quality, specks.listed)


def _mean_light(sheet: LaidSheet, record: RegionRecord, tally: Tally) -> float:
    """Return the mean of R/Rp over a region; over its cells where the standard's scan shows part of it only. [-]"""
    if record.cells * record.box.pitch_mm**2 < INSIDE_SHARE * record.area_mm2:
        return moments(tally)[0]
    return mean_inside(sheet.scan, sheet.paper, sheet.laying, record.region.outline_mm)


def _of_gaps(gaps: Gaps) -> float:
    """Return the standard uncertainty of the median ground of gaps by their scatter. [D]"""
    values = density(np.maximum(gaps.reflectance, FAINTEST))
    spread = robust_sd(values)
    return MEDIAN_FACTOR * spread / float(np.sqrt(len(values)))


def _saturated_share(tally: Tally, paper: Paper) -> float:
    """Return the share of cells at the white end of the scanner's range."""
    values, counts = tally.seen()
    return float(counts[values >= SATURATED_FROM / paper.luminance].sum() / counts.sum())


def _shifted_outline(sheet: LaidSheet, record: RegionRecord, cells: RegionCells, tone: float) -> float:
    """Return the standard uncertainty of a region's mean tone by an outline that does not lie where it should. [-]

    Notes
    -----
    A strip is gained or lost along each stretch of the outline: as wide as the misfit, and as the nearest pixel lies
    from the cell that it stands for (uniform over a pixel, s.d. ``1 / sqrt(12)``). What that adds to the mean is the
    strip's own tone less the region's.
    """
    box, outline = record.box, record.region.outline_mm
    shift = combined(np.nan_to_num(sheet.laying.misfit_um) / 1000, pixel_mm(sheet) / np.sqrt(12))
    each = max(round(SHIFT_ALIKE_MM / box.pitch_mm), 1)
    adds = []
    for ring in (outline.exterior, *outline.interiors):
        column, row = (
            np.rint((_along(ring, box.pitch_mm) - (box.x0_mm, box.y0_mm)) / box.pitch_mm).astype(np.intp).T
        )
        on = cells.codes[row.clip(0, box.rows - 1), column.clip(0, box.columns - 1)]
        off = np.where(on > 0, 1 - on * cells.unit - tone, 0.0)
        adds.append(np.add.reduceat(off, np.arange(0, len(off), each)) * box.pitch_mm)
    return shift * float(np.linalg.norm(np.concatenate(adds))) / record.area_mm2


def _along(ring: LinearRing, step_mm: float) -> Points:
    """Return points at even steps along a ring, from its first corner on. (n, 2) [mm]"""
    corners = np.asarray(ring.coords)[:, :2]
    way = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))))
    at = np.arange(0, way[-1], step_mm)
    return np.column_stack([np.interp(at, way, corners[:, axis]) for axis in (0, 1)])


def _situation(
    sheet: LaidSheet,
    lines: RegionLines,
    quality: Quality,
    row: dict[str, float],
    tone: ToneSlopes,
) -> Situation:
    """Return what decides how this region's numbers depend on the calibration."""
    scan, paper, record, broad = sheet.scan, sheet.paper, lines.record, lines.work.fits.broad
    ground = 10 ** -row.get("plate_tone_density", 0.0)
    noise = paper.noise if np.isfinite(paper.noise) else 0.0
    return Situation(
        calibration=Calibration(
            under_clouds(paper.u_level, paper.clouds, record.area_mm2),
            broad.u_blur,
            curve_uncertainty(scan.quality, scan.curve_residual_density),
            held_depth(lines),
        ),
        hatch=hatching_of(lines) if record.region.work == "lines" else None,
        blur_um=1000 * broad.blur_mm,
        film_from_gaps=Quality.GROUND_FROM_GAPS in quality,
        quantisation=quantisation(ground, paper.luminance, scan.file.bits, noise) if scan.file else 0.0,
        tone=tone,
    )
