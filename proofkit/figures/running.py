"""Running means over the pulls: small lasting changes that no single sheet shows."""

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from proofkit.edition import MeasuredEdition
from proofkit.figures import look
from proofkit.figures.consistency import GAP_PX
from proofkit.figures.panels import Panel, lay_out
from proofkit.figures.series import pull_axis, pull_order, safe
from proofkit.figures.words import axis_title, measure_word, number
from proofkit.judgement.types import Judged

TWO_COLUMNS_FROM = 4
"""Panels from which the chart is laid out in two columns."""

_EDGE = {"color": look.BAND_EDGE, "width": 1}


def running_means(measured: MeasuredEdition, judged: Judged) -> go.Figure:
    """Return the running means of the main measures with their limits.

    Parameters
    ----------
    measured : MeasuredEdition
    judged : Judged
        Its table `running` is drawn.

    Returns
    -------
    go.Figure
        One panel per measure: a dot per pull for what all regions have in common, the running mean as a line, its
        limits as a band, and open squares where the mean lies outside them.
    """
    measures = [str(name) for name in dict.fromkeys(judged.running["measure"])]
    columns = 2 if len(measures) >= TWO_COLUMNS_FROM else 1
    rows = max(1, -(-len(measures) // columns))
    chart = lay_out(
        max(1, len(measures)),
        [look.PANEL_PX - GAP_PX] * rows,
        columns=columns,
        gap_px=GAP_PX,
        title="Running means",
    )
    order = {pull: place for place, pull in enumerate(pull_order(measured))}
    for panel, measure in zip(chart.panels, measures, strict=False):
        table = judged.running.loc[judged.running["measure"] == measure]
        chart.traces.extend(trace | panel.axes for trace in _traces(measure, table, order))
        chart.axis("y", panel).update(title={"text": axis_title(measure)}, nticks=5)
        chart.name_panel(panel, f"<i>{safe(measure_word(measure))}</i>")
    for panel in chart.panels:
        _finish_x(chart.axis("x", panel), panel, measured)
    chart.traces.extend(_legend())
    return go.Figure(chart.finished())


def _finish_x(axis: dict[str, object], panel: Panel, measured: MeasuredEdition) -> None:
    axis.update(pull_axis(measured))
    if panel.is_lowest:
        axis["title"] = {"text": "pull, in order of printing"}


def _traces(measure: str, table: pd.DataFrame, order: dict[str, int]) -> list[dict[str, object]]:
    places = [order[str(pull)] for pull in table["pull"]]
    column = {
        name: np.asarray(table[name], dtype=np.float64) for name in ("value", "smoothed", "lower", "upper")
    }
    out = np.asarray(table["is_out"], dtype=bool)
    texts = [
        f"pull {safe(str(pull))}: {number(measure, value)}, running mean {number(measure, mean)}"
        for pull, value, mean in zip(table["pull"], column["value"], column["smoothed"], strict=True)
    ]
    base: dict[str, object] = {"type": "scatter", "x": places, "showlegend": False, "hoverinfo": "skip"}
    return [
        {**base, "y": column["lower"], "mode": "lines", "line": _EDGE},
        {
            **base,
            "y": column["upper"],
            "mode": "lines",
            "line": _EDGE,
            "fill": "tonexty",
            "fillcolor": look.BAND,
        },
        {
            **base,
            "y": column["value"],
            "mode": "markers",
            "marker": {"size": 6, "color": look.SHEET_DOT},
            "hoverinfo": "text",
            "text": texts,
        },
        {**base, "y": column["smoothed"], "mode": "lines", "line": {"color": look.INK, "width": 1.5}},
        {
            **base,
            "x": [place for place, is_out in zip(places, out, strict=True) if is_out],
            "y": column["smoothed"][out],
            "mode": "markers",
            "marker": _SIGN,
        },
    ]


_SIGN = {"size": 9, "symbol": "square-open", "color": look.FINDING, "line": {"width": 2}}


def _legend() -> list[dict[str, object]]:
    """Return empty traces, so that each sign is explained once."""
    nothing: dict[str, object] = {"type": "scatter", "x": [None], "y": [None], "hoverinfo": "skip"}
    band = {"size": 13, "symbol": "square", "color": look.BAND, "line": {"width": 1, "color": look.BAND_EDGE}}
    signs: tuple[tuple[str, dict[str, object], str], ...] = (
        ("markers", {"marker": {"size": 6, "color": look.SHEET_DOT}}, "a pull, all regions together"),
        ("lines", {"line": {"color": look.INK, "width": 1.5}}, "running mean"),
        ("markers", {"marker": band}, "limits of the running mean"),
        ("markers", {"marker": _SIGN}, "running mean outside"),
    )
    return [{**nothing, "mode": mode, "name": name, **style} for mode, style, name in signs]
