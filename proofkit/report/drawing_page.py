"""The page on a print and its drawing: one over the other, what was followed and where the print departs."""

from dataclasses import dataclass
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path

import numpy as np
import pandas as pd
from markupsafe import Markup

import proofkit
from proofkit.arrays import Points
from proofkit.drawing.types import ComparedDrawing
from proofkit.folder.writing import write_text
from proofkit.laying.rectify import Box
from proofkit.laying.types import Laying
from proofkit.measures.raster import reflectance_picture
from proofkit.measures.types import LaidSheet
from proofkit.reflectance.types import Paper
from proofkit.report.page import content_policy
from proofkit.report.pictures import data_uri
from proofkit.report.templates import templates
from proofkit.scan.types import Scan
from proofkit.units import px_per_mm

WHOLE_PX = 1600
"""Longest side of a picture. [px]"""


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """What is shown beside the numbers."""

    drawing_label: str
    print_label: str
    scan: Scan
    """Of the drawing."""
    paper: Paper
    laid: LaidSheet
    """The print."""


@dataclass(frozen=True, slots=True)
class Course:
    """A stretch of drawn line as it is shown."""

    kind: str
    """`followed` or `unmet`."""
    path: str


@dataclass(frozen=True, slots=True)
class Moved:
    """A departure as it is shown: the drawn course, the printed one, and where its number stands."""

    number: str
    drawn: str
    printed: str
    x_mm: float
    y_mm: float


def write_drawing_report(
    compared: ComparedDrawing, shown: Shown, tables: tuple[pd.DataFrame, pd.DataFrame], path: Path
) -> None:
    """Write the page, and beside it the picture as `drawing.svg`.

    Parameters
    ----------
    compared : ComparedDrawing
    shown : Shown
    tables : (drawing, departures)
        As in `columns`.
    path : Path
        The page.
    """
    scripts = [_own("states.js")]
    values = {
        "compared": compared,
        "labels": (shown.drawing_label, shown.print_label),
        "row": tables[0].to_dict("records")[0],
        "departures": tables[1].to_dict("records"),
        "version": proofkit.__version__,
        "made_at": datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC"),
        "policy": content_policy(scripts),
        "style": Markup(_own("page.css") + _own("states.css")),  # noqa: S704  # our own files
        "scripts": [Markup(script) for script in scripts],  # noqa: S704  # our own file
        "courses": _courses(compared),
        "moved": _moved(compared),
        "pictures": [_drawing_picture(compared, shown), _print_picture(compared, shown)],
    }
    picture = templates().get_template("drawing_picture.svg.j2").render(values, style=_own("states.css"))
    write_text(path.with_name("drawing.svg"), picture)
    write_text(path, templates().get_template("drawing.html.j2").render(values))


def _own(name: str) -> str:
    return resources.files("proofkit.report").joinpath(name).read_text(encoding="utf-8")


def _box(compared: ComparedDrawing) -> Box:
    width, height = compared.size_mm
    pitch = max(width, height) / WHOLE_PX
    return Box(pitch / 2, pitch / 2, int(width / pitch), int(height / pitch), pitch)


def _print_picture(compared: ComparedDrawing, shown: Shown) -> str:
    laid = shown.laid
    return data_uri(reflectance_picture(laid.scan, laid.paper, laid.laying, _box(compared)))


def _drawing_picture(compared: ComparedDrawing, shown: Shown) -> str:
    """Return the drawing on the print's plate, by its affine map."""
    linear = compared.laying.affine[:, :2]
    back = np.linalg.inv(linear)
    to_px = np.diag([px_per_mm(shown.scan.file.ppi_x), px_per_mm(shown.scan.file.ppi_y)])
    affine = to_px @ np.column_stack((back, -back @ compared.laying.affine[:, 2]))
    flat = Laying(
        affine, np.zeros((4, 4, 2)), max(compared.size_mm), 1.0, 1.0, 0.0, 0.0, mirrored=False, misfit_um=0.0
    )
    return data_uri(reflectance_picture(shown.scan, shown.paper, flat, _box(compared)))


def _courses(compared: ComparedDrawing) -> list[Course]:
    """Return the drawn lines, cut where the print stops or begins to follow them."""
    made = []
    for contour in compared.contours:
        met = np.isfinite(contour.departure_mm)
        points = contour.points_mm + contour.stretch_mm[:, None] * contour.normals
        for run in np.split(np.arange(len(met)), np.flatnonzero(np.diff(met.astype(np.int8))) + 1):
            reach = np.arange(run[0], min(run[-1] + 2, len(met)))
            if len(reach) > 1:
                made.append(Course("followed" if met[run[0]] else "unmet", _path(points[reach])))
    return made


def _moved(compared: ComparedDrawing) -> list[Moved]:
    made = []
    for number, one in enumerate(compared.departures, 1):
        middle = len(one.points_mm) // 2
        away = one.printed_mm[middle] - one.points_mm[middle]
        x, y = one.printed_mm[middle] + 0.9 * away / max(float(np.hypot(*away)), 1e-9)
        made.append(Moved(str(number), _path(one.points_mm), _path(one.printed_mm), float(x), float(y)))
    return made


def _path(points: Points) -> str:
    return "M" + " L".join(f"{x:.2f},{y:.2f}" for x, y in points)
