"""Consistency chart: one measure over the pulls, one panel per region, with the standard and its limits."""

from collections.abc import Sequence

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from proofkit.arrays import Floats
from proofkit.edition import MeasuredEdition
from proofkit.figures import look
from proofkit.figures.panels import Panel, lay_out
from proofkit.figures.series import (
    Limits,
    Series,
    findings_of,
    limits_of,
    pull_axis,
    pull_order,
    regions_with,
    safe,
    series_of,
)
from proofkit.figures.words import SHEET, axis_title, bare_number, measure_word, number
from proofkit.judgement.findings import FOR_ITS_SHEET
from proofkit.judgement.types import Judged

LABEL_ROOM = (0.22, 0.14)
"""Room that two words need that face each other, as shares of the width and height of a panel: the farthest finding
gets its word first, and a word that would run into another is left out. All findings carry their symbol."""

TWO_COLUMNS_FROM = 7
"""Panels from which the chart is laid out in two columns."""


GAP_PX = 34
"""Room between panels, in which their names stand. [px]"""

STANDARD_LINE = {"color": look.INK, "width": 1.5}
RING = {"size": 13, "symbol": "circle-open", "color": look.INK, "line": {"width": 1.5}}
"""How the standard is drawn: a solid line at its value, a ring about its sheet."""


def consistency(
    measured: MeasuredEdition, judged: Judged, measure: str, regions: Sequence[str] | None = None
) -> go.Figure:
    """Return the chart of one measure in order of printing.

    Parameters
    ----------
    measured : MeasuredEdition
    judged : Judged
    measure : str
        Column of `measurements` or a number of `sheets`.
    regions : sequence of str, optional
        Panels to draw, `sheet` for a measure of the sheets; all regions that have the measure when left out.

    Returns
    -------
    go.Figure
        A dot per scan with its standard uncertainty, the standard as a solid line, the limits as a band
        (dashed edges when they are trial limits), findings as open triangles with a word.

    Raises
    ------
    KeyError
        If `measure` is no column of the tables.
    """
    shown = list(regions) if regions is not None else list(regions_with(measured, measure))
    columns = 2 if len(shown) >= TWO_COLUMNS_FROM else 1
    rows = max(1, -(-len(shown) // columns))
    heights = [look.PANEL_PX - GAP_PX] * rows
    chart = lay_out(max(1, len(shown)), heights, columns=columns, gap_px=GAP_PX, title=measure_word(measure))
    order = {pull: place for place, pull in enumerate(pull_order(measured))}
    trial = False
    for panel, region in zip(chart.panels, shown, strict=False):
        limits = limits_of(judged, measure, region)
        trial |= limits is not None and limits.is_trial
        series = series_of(measured, measure, region)
        reach = _reach(series, limits)
        if limits is not None:
            chart.shapes.extend(_limits(panel, limits))
        chart.traces.append(_dots(measure, series) | panel.axes)
        chart.traces.append(_ring(series, measured.standard) | panel.axes)
        found = findings_of(judged, measure, region)
        if not found.empty:
            chart.traces.append(_findings(measure, found, order, reach) | panel.axes)
        chart.axis("y", panel)["range"] = list(reach)
        chart.name_panel(panel, _region_title(region))
    for panel in chart.panels:
        chart.axis("x", panel).update(pull_axis(measured))
        chart.axis("y", panel).update(title={"text": axis_title(measure)}, nticks=5)
        if panel.is_lowest:
            chart.axis("x", panel)["title"] = {"text": "pull, in order of printing"}
    chart.traces.extend(_legend(is_trial=trial, is_provisional=measured.is_provisional))
    return go.Figure(chart.finished())


def _region_title(region: str) -> str:
    return "<i>whole sheet</i>" if region == SHEET else f"<i>{safe(region)}</i>"


def _dots(measure: str, series: Series) -> dict[str, object]:
    has_bars = np.isfinite(series.uncertainties)
    return {
        "type": "scatter",
        "x": series.places,
        "y": series.readings,
        "mode": "markers",
        "marker": {"size": 7, "color": look.SHEET_DOT},
        "error_y": {
            "array": np.where(has_bars, series.uncertainties, 0.0),
            "visible": bool(has_bars.any()),
            "color": look.SHEET_DOT,
            "thickness": 1,
            "width": 0,
        },
        "text": _hover_texts(measure, series),
        "hovertemplate": "%{text}<extra></extra>",
        "showlegend": False,
    }


def _ring(series: Series, standard: str) -> dict[str, object]:
    rows = [index for index, pull in enumerate(series.pulls) if pull == standard]
    return {
        "type": "scatter",
        "x": series.places[rows],
        "y": series.readings[rows],
        "mode": "markers",
        "marker": RING,
        "hoverinfo": "skip",
        "showlegend": False,
    }


def _limits(panel: Panel, limits: Limits) -> list[dict[str, object]]:
    shapes: list[dict[str, object]] = []
    edge: dict[str, object] = {
        "color": look.BAND_EDGE,
        "width": 1,
        "dash": "dash" if limits.is_trial else "solid",
    }
    across: dict[str, object] = {"x0": 0, "x1": 1, "layer": "below", "line": edge, **panel.across}
    if np.isfinite(limits.lower) and np.isfinite(limits.upper):
        band = {"y0": limits.lower, "y1": limits.upper, "fillcolor": look.BAND}
        shapes.append({"type": "rect", **band, **across})
    else:
        # Leaving on the other side does no harm, so there is one edge only.
        one = [limit for limit in (limits.lower, limits.upper) if np.isfinite(limit)]
        shapes.extend({"type": "line", "y0": limit, "y1": limit, **across} for limit in one)
    if np.isfinite(limits.standard_value):
        level = {"y0": limits.standard_value, "y1": limits.standard_value, "line": STANDARD_LINE}
        shapes.append({"type": "line", "x0": 0, "x1": 1, "layer": "below", **level, **panel.across})
    return shapes


def _reach(series: Series, limits: Limits | None) -> tuple[float, float]:
    """Return the y range that holds dots, bars and limits with some air."""
    measured, bars = series.readings, np.nan_to_num(series.uncertainties)
    marks = () if limits is None else (limits.lower, limits.upper, limits.standard_value)
    finite = np.concatenate([measured - bars, measured + bars, marks])
    finite = finite[np.isfinite(finite)]
    if finite.size == 0:
        return 0.0, 1.0
    low, high = float(finite.min()), float(finite.max())
    air = 0.12 * (high - low) or max(abs(high) * 0.05, 1e-6)
    return low - air, high + air


def _hover_texts(measure: str, series: Series) -> list[str]:
    texts = []
    for pull, value, u, quality in zip(
        series.pulls, series.readings, series.uncertainties, series.quality, strict=True
    ):
        plus_minus = f" ± {bare_number(measure, u)}" if np.isfinite(u) else ""
        note = f"<br>{safe(quality)}" if quality else ""
        texts.append(f"pull {safe(pull)}: {number(measure, value)}{plus_minus}{note}")
    return texts


def _findings(
    measure: str, findings: pd.DataFrame, order: dict[str, int], reach: tuple[float, float]
) -> dict[str, object]:
    known = findings.loc[findings["pull"].isin(list(order))]
    places = [order[pull] for pull in known["pull"]]
    is_higher = known["deviation"] > 0
    points = np.column_stack([places, known["value"]])
    sides = _word_sides(points, known["deviation"], reach, len(order))
    return {
        "type": "scatter",
        "x": places,
        "y": known["value"].to_numpy(dtype=np.float64),
        "mode": "markers+text",
        "marker": _sign(["triangle-up-open" if up else "triangle-down-open" for up in is_higher], 14),
        "text": [
            f" {safe(str(word))} " if side else ""
            for word, side in zip(known["direction"], sides, strict=True)
        ],
        "textposition": [f"middle {side or 'right'}" for side in sides],
        "textfont": {"size": 11, "color": look.FINDING},
        "customdata": _finding_texts(measure, known),
        "hovertemplate": "%{customdata}<extra></extra>",
        "showlegend": False,
        "cliponaxis": False,
    }


def _word_sides(
    points: Floats, deviations: "pd.Series[float]", reach: tuple[float, float], pulls: int
) -> list[str]:
    """Return on which side each finding carries its word, empty for none; points are (n, 2), place and value."""
    room = np.array([LABEL_ROOM[0] * pulls, LABEL_ROOM[1] * (reach[1] - reach[0])])
    kept: dict[int, str] = {}
    for index in np.argsort(-deviations.abs().to_numpy(), kind="stable"):
        if all((np.abs(points[index] - points[other]) >= room).any() for other in kept):
            kept[int(index)] = _free_side(points, int(index), room, pulls)
    return [kept.get(index, "") for index in range(len(points))]


def _free_side(points: Floats, index: int, room: Floats, pulls: int) -> str:
    """Return the side of a finding on which its word hides no other symbol: towards the middle if that is free."""
    sides = ["left", "right"] if points[index, 0] > pulls / 2 else ["right", "left"]
    for side in sides:
        step = -1 if side == "left" else 1
        ahead = step * (points[:, 0] - points[index, 0])
        level = np.abs(points[:, 1] - points[index, 1])
        ends_within = 0 <= points[index, 0] + step * room[0] / 2 <= pulls
        if ends_within and not ((ahead > 0) & (ahead < room[0] / 2) & (level < room[1] / 2)).any():
            return side
    return sides[0]


def _finding_texts(measure: str, findings: pd.DataFrame) -> list[str]:
    columns = (findings[name] for name in ("pull", "direction", "value", "deviation"))
    return [
        f"pull {safe(str(pull))}: {safe(str(word))}, {number(measure, float(value))}; "
        f"{abs(spreads):.1f} spreads {'above' if spreads > 0 else 'below'} {_against(str(word))}"
        for pull, word, value, spreads in zip(*columns, strict=True)
    ]


def _against(word: str) -> str:
    """Return what a finding is far from, by its word.

    >>> _against("lower (weak)"), _against("higher, for this sheet")
    ('the good pulls', 'what the rest of the sheet leads one to expect')
    """
    return (
        "what the rest of the sheet leads one to expect" if word.endswith(FOR_ITS_SHEET) else "the good pulls"
    )


def _legend(*, is_trial: bool, is_provisional: bool) -> list[dict[str, object]]:
    """Return empty traces, so that each sign is explained once."""
    standard = "provisional standard" if is_provisional else "standard"
    limits = "trial limits: the spread is not well known" if is_trial else "limits of good pulls"
    band = {"size": 13, "symbol": "square", "color": look.BAND, "line": {"width": 1, "color": look.BAND_EDGE}}
    signs: tuple[tuple[str, dict[str, object], str], ...] = (
        ("markers", {"marker": {"size": 7, "color": look.SHEET_DOT}}, "a sheet ± its standard uncertainty"),
        ("lines+markers", {"line": STANDARD_LINE, "marker": RING}, standard),
        ("markers", {"marker": band}, limits),
        ("markers", {"marker": _sign("triangle-up-open", 12)}, "higher: look again"),
        ("markers", {"marker": _sign("triangle-down-open", 12)}, "lower: look again"),
    )
    nothing: dict[str, object] = {"type": "scatter", "x": [None], "y": [None], "hoverinfo": "skip"}
    return [{**nothing, "mode": mode, "name": name, **style} for mode, style, name in signs]


def _sign(symbol: str | list[str], size: int) -> dict[str, object]:
    return {"size": size, "symbol": symbol, "color": look.FINDING, "line": {"width": 2}}
