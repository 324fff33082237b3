"""Figures of a write-up as SVG, PDF and PNG.

matplotlib draws all three without a browser, and alike on every machine.
"""

from collections.abc import Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any, cast

import matplotlib as mpl
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from proofkit.arrays import Floats
from proofkit.figures.look import BAND, INK, RULE, SHEET_DOT, SOFT_INK
from proofkit.study.bite import Course
from proofkit.study.experiment import Factor
from proofkit.study.gradient import Tilt
from proofkit.study.naming import response_unit, response_word

WIDTH_IN = 6.3
"""Width of a figure: the text of an A4 page. [inch]"""

HEIGHT_IN = 3.8
PNG_PPI = 200
MARKS = ("o", "s", "^", "D", "v", "P", "X", "*")
"""Groups are told apart by shape as well as by shade."""

STYLE = {
    "font.family": "DejaVu Serif",
    "font.size": 9,
    "axes.edgecolor": SOFT_INK,
    "axes.labelcolor": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "grid.color": RULE,
    "grid.linewidth": 0.5,
    "xtick.color": SOFT_INK,
    "ytick.color": SOFT_INK,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "legend.frameon": False,
    "svg.fonttype": "path",
    "svg.hashsalt": "proofkit",
    "text.parse_math": False,
    "axes.axisbelow": True,
}
FORMATS = ("svg", "pdf", "png")


def _styled() -> AbstractContextManager[None]:
    """Return a context in which figures look as they should, whatever the machine's own settings are."""
    return mpl.rc_context(cast("Any", STYLE))  # the names of its settings are a type of their own


def save(figure: Figure, stem: Path) -> list[Path]:
    """Write a figure in three formats; the same figure gives the same files.

    Raises
    ------
    OSError
        If a file cannot be written.
    """
    stem.parent.mkdir(parents=True, exist_ok=True)
    written = []
    with _styled():
        for ending in FORMATS:
            path = stem.with_name(f"{stem.name}.{ending}")
            # No dates inside, so that a study that is written again gives the same files.
            metadata = {"svg": {"Date": None}, "pdf": {"CreationDate": None}, "png": {"Software": None}}[
                ending
            ]
            figure.savefig(path, format=ending, dpi=PNG_PPI, metadata=metadata, facecolor="white")
            written.append(path)
    return written


def _axes(height_in: float = HEIGHT_IN) -> tuple[Figure, Axes]:
    figure = Figure(figsize=(WIDTH_IN, height_in), layout="constrained")
    FigureCanvasAgg(figure)
    return figure, figure.add_subplot()


def _title(name: str) -> str:
    unit = response_unit(name)
    return f"{response_word(name)}, {unit}" if unit else response_word(name)


def response_figure(
    table: pd.DataFrame, response: str, factor: Factor, other: Factor | None, fitted: Floats | None
) -> Figure:
    """Draw a response against a factor: every unit, and what the model says.

    Parameters
    ----------
    table : DataFrame
        Rows that were fitted.
    response : str
    factor : Factor
        Along the horizontal axis.
    other : Factor or None
        Told apart by shape.
    fitted : Floats or None
        (n,) what the factors explain; drawn as a line over numbers, as bars over words. None where it was fitted on
        another scale.
    """
    with _styled():
        figure, axes = _axes()
        places = _places(table, factor)
        series = [("", np.ones(len(table), dtype=bool))] if other is None else _series(table, other)
        for number, (label, rows) in enumerate(series):
            shade = _shade(number, len(series))
            at = places[rows] + _aside(number, len(series), factor)
            values = table[response].to_numpy(dtype=np.float64)[rows]
            axes.plot(
                at, values, MARKS[number % len(MARKS)], color=shade, label=label, markersize=5, alpha=0.9
            )
            if fitted is not None:
                order = np.argsort(at, kind="stable")
                line = "-" if factor.kind == "number" else "none"
                axes.plot(at[order], fitted[rows][order], color=shade, linestyle=line, linewidth=1.2,
                          marker="_" if factor.kind == "word" else "", markersize=22)  # fmt: skip
        _dress(axes, factor, response)
        if other is not None:
            axes.legend(title=other.label, loc="best")
        return figure


def _places(table: pd.DataFrame, factor: Factor) -> Floats:
    if factor.kind == "number":
        return table[factor.name].to_numpy(dtype=np.float64)
    order = {level: float(place) for place, level in enumerate(factor.levels)}
    return np.array([order[level] for level in table[factor.name]])


def _series(table: pd.DataFrame, other: Factor) -> list[tuple[str, np.ndarray]]:
    values = table[other.name]
    levels = other.levels if other.kind == "word" else tuple(sorted(set(values)))
    unit = f" {other.unit}" if other.unit else ""
    return [
        (f"{level:g}{unit}" if isinstance(level, float) else str(level), np.asarray(values == level))
        for level in levels
    ]


def _shade(number: int, count: int) -> str:
    return INK if count > 1 and number % 2 else SHEET_DOT


def _aside(number: int, count: int, factor: Factor) -> float:
    return 0.0 if factor.kind == "number" else 0.16 * (number - (count - 1) / 2)


def _dress(axes: Axes, factor: Factor, response: str) -> None:
    axes.set_xlabel(f"{factor.label}, {factor.unit}" if factor.unit else factor.label)
    axes.set_ylabel(_title(response))
    if factor.kind == "word":
        axes.set_xticks(range(len(factor.levels)), factor.levels)
        axes.set_xlim(-0.6, len(factor.levels) - 0.4)
    elif factor.scale == "log":
        axes.set_xscale("log", base=2)
        axes.xaxis.set_major_formatter("{x:g}")


def course_figure(
    courses: Sequence[tuple[str, Floats, Floats, Course]], response: str, factor: Factor
) -> Figure:
    """Draw step-bite strips: readings, the course that never falls, and its interval.

    Parameters
    ----------
    courses : sequence of (str, Floats, Floats, Course)
        Name of the bath, times and readings, and the course.
    response : str
    factor : Factor
        The time.
    """
    with _styled():
        figure, axes = _axes()
        for number, (label, times, values, course) in enumerate(courses):
            shade = _shade(number, len(courses))
            axes.fill_between(course.times, course.low, course.high, color=BAND, alpha=0.7, linewidth=0)
            axes.plot(course.times, course.fitted, "-", color=shade, linewidth=1.4)
            axes.plot(times, values, MARKS[number % len(MARKS)], color=shade, markersize=5, label=label)
        _dress(axes, factor, response)
        if len(courses) > 1:
            axes.legend(loc="best")
        return figure


def tilt_figure(tilt: Tilt) -> Figure:
    """Draw the slope of a region on every pull as an arrow from the middle, and what they have in common."""
    with _styled():
        figure, axes = _axes()
        # Upwards on the page is upwards on the print.
        slopes = tilt.slopes * np.array([100.0, -100.0])
        for slope in slopes:
            axes.plot([0, slope[0]], [0, slope[1]], "-", color=SHEET_DOT, linewidth=0.8, alpha=0.7)
        axes.plot(slopes[:, 0], slopes[:, 1], "o", color=SHEET_DOT, markersize=5, label="one pull")
        mean = slopes.mean(axis=0)
        axes.annotate("", mean, (0, 0), arrowprops={"arrowstyle": "-|>", "color": INK, "linewidth": 2})
        axes.plot(*mean, "s", color=INK, markersize=6, label="all pulls")
        axes.axhline(0, color=SOFT_INK, linewidth=0.6)
        axes.axvline(0, color=SOFT_INK, linewidth=0.6)
        axes.set_aspect("equal", adjustable="datalim")
        axes.set_xlabel("darker to the right, D per 100 mm")
        axes.set_ylabel("darker upwards, D per 100 mm")
        axes.legend(loc="best")
        return figure


def residual_figure(fitted: Floats, residuals: Floats, order: Floats, response: str) -> Figure:
    """Draw what a model leaves over, against what it says and, where there is one, the order of the work."""
    with _styled():
        has_order = bool(np.ptp(order) > 0)
        figure = Figure(figsize=(WIDTH_IN, 2.6), layout="constrained")
        FigureCanvasAgg(figure)
        panels = figure.subplots(1, 1 + has_order, sharey=True, squeeze=False)[0]
        left = panels[0]
        for axes, at, title in zip(panels, (fitted, order), ("fitted", "order of the work"), strict=False):
            axes.axhline(0, color=SOFT_INK, linewidth=0.8)
            axes.plot(at, residuals, "o", color=SHEET_DOT, markersize=4)
            axes.set_xlabel(title)
        left.set_ylabel(f"left over: {response_word(response).lower()}")
        return figure
