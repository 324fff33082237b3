"""Measure one sheet against the standard."""

import numpy as np
from shapely import contains_xy

from proofkit.arrays import FULL_SCALE
from proofkit.edition import TONE_PITCH_MM
from proofkit.errors import CalibrationError, UnlikeError
from proofkit.folder.edition import Edition, Pull
from proofkit.laying.pitch import doubtful_fields
from proofkit.laying.rectify import plate_box
from proofkit.measures.bevel import bevel_ink
from proofkit.measures.colour import colour_difference, sheet_colour
from proofkit.measures.crease import find_crease
from proofkit.measures.fine_picture import fine_picture
from proofkit.measures.ghost import find_ghost
from proofkit.measures.raster import reflectance_picture
from proofkit.measures.set_off import NO_GHOST, find_set_off
from proofkit.measures.table import Measured, measure_regions
from proofkit.measures.types import LaidSheet
from proofkit.quality import Quality, from_words, words
from proofkit.reflectance.edge_response import SIGMA_OF_MTF50, edge_response
from proofkit.scan.types import Scan
from proofkit.sheet.laying_down import LaidDown, lay_down
from proofkit.sheet.reading import read_sheet
from proofkit.sheet.types import SheetResult, Standard
from proofkit.sheet.unlaid import unlaid_sheet
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
    if not is_standard:
        read = read_sheet(edition, pull, standard.light)
        try:
            down = lay_down(read, standard.pictures, standard.lines, standard.read, standard.edges)
        except UnlikeError as error:
            return unlaid_sheet(read, pull, standard, str(error))
    elif standard.laid is not None:
        down = LaidDown(standard.laid, standard.corners_px, standard.quality)
    else:
        msg = "the standard is measured before its scan is let go of"
        raise ValueError(msg)
    laid = down.laid
    measured = measure_regions(laid, standard.records, standard.lines, _passed_on(down.quality))
    rows = measured.rows
    if not is_standard:
        _doubt(rows, laid, standard)
    names: dict[str, object] = {"pull": pull.pull, "scan": pull.scan}
    box = plate_box(standard.plate_width_mm, standard.plate_height_mm, TONE_PITCH_MM)
    return SheetResult(
        sheet={**names, **_sheet_row(edition, down, standard, measured)},
        rows=[{**names, **row} for row in rows],
        specks=[{**names, "region": region, **speck._asdict()} for region, speck in measured.specks],
        histograms={region: counts.tolist() for region, counts in measured.histograms.items()},
        tone_picture=reflectance_picture(laid.scan, laid.paper, laid.laying, box),
        laying=laid.laying,
        paper=laid.paper,
        corners_px=down.corners_px,
        fine=fine_picture(
            laid.scan, laid.paper, laid.laying, (standard.plate_width_mm, standard.plate_height_mm)
        ),
    )


def _doubt(rows: list[dict[str, object]], laid: LaidSheet, standard: Standard) -> None:
    """Flag the rows of regions in which hatching may be matched one line off."""
    fields = doubtful_fields(
        laid.laying, laid.scan.plane, laid.paper.luminance, standard.pictures, standard.lines
    )
    if not len(fields):
        return
    for row, region in zip(rows, standard.regions, strict=True):
        if contains_xy(region.outline_mm, fields[:, 0], fields[:, 1]).any():
            row["quality"] = words(from_words(str(row["quality"])) | Quality.PITCH_DOUBT)


def _passed_on(quality: Quality) -> Quality:
    """Return the flags of a sheet that also limit each of its regions."""
    return quality & (Quality.MISFIT | Quality.LOW_RESOLUTION | Quality.LITTLE_MARGIN | Quality.LOSSY)


def _sheet_row(edition: Edition, down: LaidDown, standard: Standard, measured: Measured) -> dict[str, object]:
    """Return the row of `sheets`."""
    laid = down.laid
    file, paper, laying = laid.scan.file, laid.paper, laid.laying
    films = [value for row in measured.rows if isinstance(value := row.get("plate_tone_density"), float)]
    is_standard = laid is standard.laid
    ghost = None if is_standard else find_ghost(laid, standard.ghost)
    crease = None if is_standard else find_crease(laid, standard.pictures)
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
    set_off = NO_GHOST if is_standard else find_set_off(laid, standard.pictures)
    return row | set_off.cells() | _colour_cells(laid, standard, measured.solid)


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


def _colour_cells(laid: LaidSheet, standard: Standard, solid: float) -> dict[str, object]:
    """Return the cells of `sheets` on colour."""
    there = standard.colour
    here = there if laid is standard.laid else sheet_colour(laid, standard.records, standard.lines, solid)
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
