"""Measure one sheet against the standard."""

from collections.abc import Callable
from functools import partial
from typing import cast

import numpy as np
from shapely import contains_xy

from proofkit.arrays import FULL_SCALE, Points
from proofkit.errors import CalibrationError, UnlikeError
from proofkit.folder.edition import Edition, Pull
from proofkit.measures.bevel import bevel_ink
from proofkit.measures.colour import SheetColour, colour_difference
from proofkit.measures.table import Measured, MeasuredRegion, fit_regions, in_tables, measure_region
from proofkit.quality import Quality, from_words, words
from proofkit.reflectance.edge_response import SIGMA_OF_MTF50, edge_response
from proofkit.scan.types import Scan
from proofkit.sheet.cutting import PlatePart, cut_to_plate, holds_plate, moved_laying, moved_paper
from proofkit.sheet.laying_down import LaidDown, lay_down
from proofkit.sheet.reading import ReadSheet, read_sheet
from proofkit.sheet.types import SheetResult, Standard
from proofkit.sheet.unlaid import unlaid_sheet
from proofkit.sheet.whole import WholeSheet, whole_jobs, whole_of
from proofkit.threads import each_in_order
from proofkit.units import UM_PER_MM, density, px_per_mm


def measure_sheet(edition: Edition, pull: Pull, standard: Standard) -> SheetResult:
    """Read, lay and measure one sheet.

    Parameters
    ----------
    edition : Edition
    pull : Pull
    standard : Standard
        From `make_standard` of the same edition.

    Returns
    -------
    SheetResult
        With nothing but its row of `sheets` when it is blank or shows another plate, see `unlaid_sheet`.

    Raises
    ------
    ProofkitError
        If the sheet cannot be read, or its size cannot be right: one line.
    """
    is_standard = pull.pull == standard.pull
    origin = 0, 0
    if not is_standard:
        read, found_to_lie, origin = _lay(edition, pull, standard)
        if isinstance(found_to_lie, str):
            return unlaid_sheet(read, pull, standard, found_to_lie)
        down = found_to_lie
    elif standard.laid is not None:
        down = LaidDown(standard.laid, standard.corners_px, standard.quality)
    else:
        msg = "the standard is measured before its scan is let go of"
        raise ValueError(msg)
    laid = down.laid
    measured, found = _measure(down, standard)
    rows = measured.rows
    _doubt(rows, found.doubtful_mm, standard)
    names: dict[str, object] = {"pull": pull.pull, "scan": pull.scan}
    return SheetResult(
        sheet={**names, **_sheet_row(edition, down, standard, measured, found)},
        rows=[{**names, **row} for row in rows],
        specks=[{**names, "region": region, **speck._asdict()} for region, speck in measured.specks],
        histograms={region: counts.tolist() for region, counts in measured.histograms.items()},
        tone_picture=found.tone_picture,
        laying=moved_laying(laid.laying, origin),
        paper=moved_paper(laid.paper, origin),
        corners_px=down.corners_px + origin,
        fine=found.fine,
    )


def _lay(
    edition: Edition, pull: Pull, standard: Standard
) -> tuple[ReadSheet, LaidDown | str, tuple[int, int]]:
    """Return a sheet as it was read, how it lies, and where its first pixel lies in the scan. [px]

    What lies outside a whole plate mark is let go of, unless the mark misleads or a target's edge lies there. Where
    nothing tells how the sheet lies a line says why.
    """
    size_mm = standard.plate_width_mm, standard.plate_height_mm
    read = read_sheet(edition, pull, standard.light, size_mm)
    part = None if edition.capture.edge_px is not None else cut_to_plate(read)
    if part is not None:
        down = _laid_by_mark(part, standard)
        if down is not None:
            return part.read, down, part.origin_px
        read = read_sheet(edition, pull, standard.light, size_mm)
    try:
        return read, _laid_down(read, standard), (0, 0)
    except UnlikeError as error:
        return read, str(error), (0, 0)


def _laid_down(read: ReadSheet, standard: Standard) -> LaidDown:
    return lay_down(read, standard.pictures, standard.lines, standard.read, standard.edges)


def _laid_by_mark(part: PlatePart, standard: Standard) -> LaidDown | None:
    """Return how the part of a sheet within its plate mark lies; None where the mark does not hold the plate."""
    try:
        down = _laid_down(part.read, standard)
    except UnlikeError:
        return None
    size = standard.plate_width_mm, standard.plate_height_mm
    return down if holds_plate(part, down.laid.laying, size) else None


def _measure(down: LaidDown, standard: Standard) -> tuple[Measured, WholeSheet]:
    """Return what is measured on the regions of a laid sheet and on the whole of it, done side by side."""
    laid = down.laid
    fitted = fit_regions(laid, standard.records, standard.lines)
    whole = whole_jobs(laid, standard, fitted.solid)
    jobs: list[Callable[[], object]] = [
        *whole.values(),  # what takes longest comes first, so that threads end together
        *(partial(measure_region, laid, record, fitted) for record in standard.records),
    ]
    done = each_in_order(lambda job: job(), jobs)
    found = whole_of(dict(zip(whole, done, strict=False)))
    listed = cast("list[MeasuredRegion]", done[len(whole) :])
    return in_tables(standard.records, listed, fitted, _passed_on(down.quality)), found


def _doubt(rows: list[dict[str, object]], doubtful_mm: Points, standard: Standard) -> None:
    """Flag the rows of regions in which hatching may be matched one line off."""
    if not len(doubtful_mm):
        return
    for row, region in zip(rows, standard.regions, strict=True):
        if contains_xy(region.outline_mm, doubtful_mm[:, 0], doubtful_mm[:, 1]).any():
            row["quality"] = words(from_words(str(row["quality"])) | Quality.PITCH_DOUBT)


def _passed_on(quality: Quality) -> Quality:
    """Return the flags of a sheet that also limit each of its regions."""
    return quality & (Quality.MISFIT | Quality.LOW_RESOLUTION | Quality.LITTLE_MARGIN | Quality.LOSSY)


def _sheet_row(
    edition: Edition, down: LaidDown, standard: Standard, measured: Measured, found: WholeSheet
) -> dict[str, object]:
    """Return the row of `sheets`."""
    laid = down.laid
    file, paper, laying = laid.scan.file, laid.paper, laid.laying
    films = [value for row in measured.rows if isinstance(value := row.get("plate_tone_density"), float)]
    ghost, crease = found.ghost, found.crease
    mtf50_per_mm, edge_quality = _resolution(edition, laid.scan, measured)
    row: dict[str, object] = {
        "sha256": file.sha256,
        "ppi_x": file.ppi_x,
        "ppi_y": file.ppi_y,
        "bits": float(file.bits),
        "plate_width_mm": standard.plate_width_mm * laying.stretch_x,
        "plate_height_mm": standard.plate_height_mm * laying.stretch_y,
        "stretch_x": laying.stretch_x,
        "stretch_y": laying.stretch_y,
        "shear": laying.shear,
        "rotation_deg": laying.rotation_deg,
        "mirrored": laying.mirrored,
        "misfit_um": laying.misfit_um,
        "curve": laid.scan.curve,
        "blur_um": measured.broad.sharpest_mm * UM_PER_MM,
        "mtf50_per_mm": mtf50_per_mm,
        "noise_fraction": paper.noise,
        "paper_density": float(density(paper.luminance)),
        "paper_a": paper.lab[1],
        "paper_b": paper.lab[2],
        "bevel_density": bevel_ink(laid, down.corners_px, float(np.median(films)) if films else 0.0),
        "doubling_um": 0.0 if ghost is None else ghost.shift_um,
        "doubling_deg": np.nan if ghost is None else ghost.direction_deg,
        "doubling_fraction": 0.0 if ghost is None else ghost.fraction,
        "crease_mm": 0.0 if crease is None else crease.length_mm,
        "quality": words(down.quality | edge_quality),
    }
    return row | found.set_off.cells() | _colour_cells(found.colour or standard.colour, standard.colour)


def _resolution(edition: Edition, scan: Scan, measured: Measured) -> tuple[float, Quality]:
    """Return the frequency of half contrast, from the target's edge where there is one, else from the lines. [1/mm]"""
    by_lines = SIGMA_OF_MTF50 / measured.broad.sharpest_mm
    if edition.capture.edge_px is None:
        return by_lines, Quality.NONE
    x0, y0, x1, y1 = (round(value) for value in edition.capture.edge_px)
    box = scan.plane[max(y0, 0) : max(y1, 0), max(x0, 0) : max(x1, 0)] / FULL_SCALE
    px_mm = 1 / px_per_mm(float(np.sqrt(scan.file.ppi_x * scan.file.ppi_y)))
    try:
        found = edge_response(box, px_mm).mtf50_per_mm
    except CalibrationError:
        return by_lines, Quality.NO_EDGE
    return (found, Quality.NONE) if np.isfinite(found) else (by_lines, Quality.NO_EDGE)


def _colour_cells(here: SheetColour, there: SheetColour) -> dict[str, object]:
    """Return the cells of `sheets` on colour, here and on the standard."""
    cells: dict[str, object] = {
        f"{what}_{name}": value
        for what, lab in (("ink", here.ink), ("film", here.film))
        for name, value in zip(("lightness", "a", "b"), lab, strict=True)
    }
    for what, one, other in (
        ("paper", here.paper, there.paper), ("ink", here.ink, there.ink), ("film", here.film, there.film),
    ):  # fmt: skip
        cells[f"{what}_colour_difference"] = colour_difference(one, other)
    return cells
