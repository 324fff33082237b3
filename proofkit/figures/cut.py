"""A cut across the sheet and the standard: density along it, both in one chart."""

from collections.abc import Sequence
from typing import NamedTuple

import plotly.graph_objects as go

from proofkit.arrays import Floats
from proofkit.figures import look
from proofkit.figures.panels import lay_out
from proofkit.figures.series import safe

HEIGHT_PX = 210


class Course(NamedTuple):
    """Densities of one sheet along a cut."""

    name: str
    along_mm: Floats
    """(n,) from the start of the cut. [mm]"""
    density: Floats
    """(n,) above bare paper. [D]"""


def cut_profile(courses: Sequence[Course]) -> go.Figure:
    """Return the densities along a cut; the last course is the standard's and is drawn as on every other chart.

    Parameters
    ----------
    courses : sequence of Course
        One or two: the sheet, then the standard.

    Returns
    -------
    go.Figure
        Density grows downwards, as ink lies on paper.
    """
    chart = lay_out(1, [HEIGHT_PX], columns=1, gap_px=0, title="Density along the cut")
    (panel,) = chart.panels
    for number, course in enumerate(courses):
        is_standard = number == len(courses) - 1 and len(courses) > 1
        line = {"color": look.INK, "width": 1.2} if is_standard else {"color": look.SHEET_DOT, "width": 2}
        chart.traces.append(
            {
                "type": "scatter",
                "x": course.along_mm,
                "y": course.density,
                "mode": "lines",
                "line": line | ({"dash": "dot"} if is_standard else {}),
                "name": safe(course.name),
                "hovertemplate": "%{x:.3f} mm: %{y:.3f} D<extra></extra>",
                **panel.axes,
            }
        )
    chart.axis("x", panel)["title"] = {"text": "along the cut, mm"}
    chart.axis("y", panel).update(title={"text": "density, D"}, autorange="reversed")
    return go.Figure(chart.finished())
