"""The command `compare --drawing`: a print against its drawing."""

from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd

from proofkit.arrays import Points
from proofkit.check.results import prepare_out, write_table
from proofkit.columns import CONTOURS, DEPARTURES, DRAWING, make_table
from proofkit.compare.inputs import Chosen, choose_side
from proofkit.drawing.comparison import compare_drawing
from proofkit.drawing.evidence import line_contrast
from proofkit.drawing.pencil import courses_of, find_pencil_lines
from proofkit.drawing.types import ComparedDrawing, Contour, Courses
from proofkit.errors import ComparisonError
from proofkit.folder.edition import Region, rectangle
from proofkit.laying.standard_lines import StandardLines
from proofkit.laying.types import Laying
from proofkit.report.drawing_page import Shown, write_drawing_report
from proofkit.sheet.reading import read_sheet
from proofkit.sheet.standard import make_standard
from proofkit.threads import solved_in_one_thread

HATCHED_MM = 0.7
"""Lines with neighbours nearer than this are taken for hatching. [mm]"""

HATCHING_WEIGHT = 0.5
"""What a line of hatching counts against a contour when the drawing is looked for. [-]"""

LEAST_PRINTED_MM = 20.0
"""Less printed line than this cannot be compared with a drawing. [mm]"""


@dataclass(frozen=True, slots=True, eq=False)
class DrawingResult:
    """A print compared with its drawing, with everything that was written."""

    reading: str
    """`mirrored` or `direct`."""
    drawing: pd.DataFrame
    """Table `drawing`, one row."""
    contours: pd.DataFrame
    departures: pd.DataFrame
    compared: ComparedDrawing
    print_laying: Laying
    """Plate mm -> px of the print's scan."""
    out: Path
    report: Path


@solved_in_one_thread()
def compare_with_drawing(
    drawing: str | Path,
    print_: str | Path,
    *,
    ppi: tuple[float | None, float | None] = (None, None),
    out: str | Path | None = None,
) -> DrawingResult:
    """Compare a print with the drawing or tracing it was made after; write tables, picture and report.

    Parameters
    ----------
    drawing : path
        Scan of the drawing.
    print_ : path
        Scan of the print, or an edition or folder with one pull.
    ppi : (float, float), optional
        Resolution of drawing and print to use instead of the files'. [px/inch]
    out : path, optional
        Folder for the results; by default one in the current folder.

    Raises
    ------
    ProofkitError
        If nothing could be compared: one line.
    """
    drawn, printed = choose_side("A", Path(drawing), ppi=ppi[0]), choose_side("B", Path(print_), ppi=ppi[1])
    for side in (drawn, printed):
        _check_one(side)
    folder = prepare_out(Path(out) if out is not None else Path(f"compare_{drawn.label}_{printed.label}"))
    asked = printed.pulls[0]
    no_regions = (Region("plate", "open", rectangle(0.5, 0.5, 1.5, 1.5)),)
    standard = make_standard(replace(asked.edition, regions=no_regions), asked.pull)
    laid = standard.laid
    if laid is None or float(standard.lines.lines.length_mm.sum()) < LEAST_PRINTED_MM:
        raise ComparisonError(
            f"{printed.label} shows {standard.lines.lines.length_mm.sum():.0f} mm of printed line, at least "
            f"{LEAST_PRINTED_MM:.0f} mm are needed: it is blank, or its work is all tone; give another print."
        )
    read = read_sheet(drawn.pulls[0].edition, drawn.pulls[0].pull)
    pencil = find_pencil_lines(read.scan, read.paper)
    size = (standard.plate_width_mm, standard.plate_height_mm)
    compared = compare_drawing(pencil, _printed(standard.lines), size, partial(line_contrast, laid))
    tables = (
        _drawing_table(compared, drawn.label, printed.label),
        contours_table(compared),
        departures_table(compared),
    )
    for name, table, columns in zip(
        ("drawing", "contours", "departures"), tables, (DRAWING, CONTOURS, DEPARTURES), strict=True
    ):
        write_table(folder, name, table, columns)
    report = folder / "report.html"
    shown = Shown(drawn.label, printed.label, read.scan, read.paper, laid)
    write_drawing_report(compared, shown, (tables[0], tables[2]), report)
    return DrawingResult(compared.reading, *tables, compared, laid.laying, folder, report)


def _check_one(side: Chosen) -> None:
    if len(side.pulls) != 1:
        raise ComparisonError(
            f"{side.label} holds {len(side.pulls)} scans; a drawing is compared with one print. Name one file."
        )


def _printed(lines: StandardLines) -> Courses:
    weight = np.where(lines.spacing_mm < HATCHED_MM, HATCHING_WEIGHT, 1.0)
    return courses_of(lines.lines, np.ones(lines.lines.size, dtype=np.bool_), weight)


def _drawing_table(compared: ComparedDrawing, drawing: str, print_: str) -> pd.DataFrame:
    direct, mirrored = compared.fits
    row: dict[str, object] = {
        "drawing": drawing,
        "print": print_,
        "reading": compared.reading,
        "covered_fraction": compared.covered_fraction,
        "mirrored_above_chance": mirrored.above_chance,
        "direct_above_chance": direct.above_chance,
        "scale_x": compared.scale_x,
        "scale_y": compared.scale_y,
        "shear": compared.shear,
        "rotation_deg": compared.rotation_deg,
        "stretch_mm": compared.stretch_mm,
        "departures": float(len(compared.departures)),
    }
    return make_table([row], DRAWING)


def contours_table(compared: ComparedDrawing) -> pd.DataFrame:
    """Return one row per line of the drawing."""
    return make_table(
        [_contour_row(number, one) for number, one in enumerate(compared.contours, 1)], CONTOURS
    )


def _contour_row(number: int, contour: Contour) -> dict[str, object]:
    x, y = contour.points_mm[len(contour.points_mm) // 2]
    met = np.abs(contour.departure_mm[np.isfinite(contour.departure_mm)])
    return {
        "number": str(number),
        "x_mm": float(x),
        "y_mm": float(y),
        "length_mm": contour.length_mm,
        "covered_fraction": contour.covered_fraction,
        "stretch_mm": float(np.sqrt(np.mean(contour.stretch_mm**2))),
        "departure_mm": float(np.percentile(met, 90)) if met.size else float("nan"),
        "wkt": _line(contour.points_mm),
    }


def departures_table(compared: ComparedDrawing) -> pd.DataFrame:
    """Return one row per departure, numbered as in the picture."""
    rows: list[dict[str, object]] = []
    for number, one in enumerate(compared.departures, 1):
        x, y = one.points_mm[len(one.points_mm) // 2]
        rows.append(
            {
                "number": str(number),
                "contour": str(one.contour),
                "x_mm": float(x),
                "y_mm": float(y),
                "length_mm": one.length_mm,
                "departure_mm": one.departure_mm,
                "wkt_drawn": _line(one.points_mm),
                "wkt_printed": _line(one.printed_mm),
            }
        )
    return make_table(rows, DEPARTURES)


def _line(points_mm: Points) -> str:
    points = points_mm if len(points_mm) > 1 else np.vstack((points_mm, points_mm))
    return "LINESTRING (" + ", ".join(f"{x:.3f} {y:.3f}" for x, y in points) + ")"
