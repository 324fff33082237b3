"""Consistency chart: one measure over the pulls, one panel per region, with the standard and its limits."""

from collections.abc import Sequence

import numpy as np
import pandas as pd
import plotly.graph_objects as go
from plotly.subplots import make_subplots

from proofkit.edition import MeasuredEdition
from proofkit.figures import look
from proofkit.figures.series import (
    Limits,
    Series,
    findings_of,
    limits_of,
    pull_axis,
    regions_with,
    safe,
    series_of,
)
from proofkit.figures.words import SHEET, axis_title, bare_number, measure_word, number
from proofkit.judgement.types import Judged

LABELS_PER_PANEL = 5
"""Findings that carry their word in a panel, the farthest first; all carry their symbol."""

TWO_COLUMNS_FROM = 7
"""Panels from which the chart is laid out in two columns."""


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
    height = rows * look.PANEL_PX + 140
    figure = make_subplots(
        rows=rows,
        cols=columns,
        shared_xaxes=True,
        vertical_spacing=min(34 / (height - 120), 1 / rows),
        horizontal_spacing=0.09,
    )
    figure.update_layout(template=look.template(), height=height, title_text=measure_word(measure))
    axis = pull_axis(measured)
    trial = False
    for index, region in enumerate(shown):
        at = (index // columns + 1, index % columns + 1)
        limits = limits_of(judged, measure, region)
        trial |= limits is not None and limits.is_trial
        series = series_of(measured, measure, region)
        _draw_panel(figure, at, measure, series, limits)
        _ring_the_standard(figure, at, series, measured.standard)
        _draw_findings(figure, at, measure, findings_of(judged, measure, region), measured)
        figure.add_annotation(look.panel_title(index + 1, _region_title(region), domain=str(index + 1)))
    figure.update_xaxes(**axis)
    for column in range(1, columns + 1):
        figure.update_xaxes(
            title_text="pull, in order of printing", showticklabels=True, row=rows, col=column
        )
    figure.update_yaxes(title_text=axis_title(measure), nticks=5)
    _add_legend(figure, is_trial=trial, is_provisional=measured.is_provisional)
    return figure


def _region_title(region: str) -> str:
    return "<i>whole sheet</i>" if region == SHEET else f"<i>{safe(region)}</i>"


def _draw_panel(
    figure: go.Figure, at: tuple[int, int], measure: str, series: Series, limits: Limits | None
) -> None:
    row, column = at
    has_bars = np.isfinite(series.uncertainties)
    figure.add_trace(
        go.Scatter(
            x=series.places,
            y=series.readings,
            mode="markers",
            marker={"size": 7, "color": look.SHEET_DOT},
            error_y={
                "array": np.where(has_bars, series.uncertainties, 0.0),
                "visible": bool(has_bars.any()),
                "color": look.SHEET_DOT,
                "thickness": 1,
                "width": 0,
            },
            text=_hover_texts(measure, series),
            hovertemplate="%{text}<extra></extra>",
            showlegend=False,
        ),
        row=row,
        col=column,
    )
    if limits is not None:
        _draw_limits(figure, at, limits)
    if reach := _reach(series, limits):
        figure.update_yaxes(range=reach, row=row, col=column)


def _ring_the_standard(figure: go.Figure, at: tuple[int, int], series: Series, standard: str) -> None:
    rows = [index for index, pull in enumerate(series.pulls) if pull == standard]
    figure.add_trace(
        go.Scatter(
            x=series.places[rows],
            y=series.readings[rows],
            mode="markers",
            marker={"size": 13, "symbol": "circle-open", "color": look.INK, "line": {"width": 1.5}},
            hoverinfo="skip",
            showlegend=False,
        ),
        row=at[0],
        col=at[1],
    )


def _draw_limits(figure: go.Figure, at: tuple[int, int], limits: Limits) -> None:
    row, column = at
    if np.isfinite(limits.lower) and np.isfinite(limits.upper):
        figure.add_hrect(
            y0=limits.lower,
            y1=limits.upper,
            row=row,
            col=column,
            fillcolor=look.BAND,
            layer="below",
            line={"color": look.BAND_EDGE, "width": 1, "dash": "dash" if limits.is_trial else "solid"},
        )
    if np.isfinite(limits.standard_value):
        figure.add_hline(
            y=limits.standard_value,
            row=row,
            col=column,
            layer="below",
            line={"color": look.INK, "width": 1.5},
        )


def _reach(series: Series, limits: Limits | None) -> list[float]:
    """Return the y range that holds dots, bars and limits with some air; empty when there is nothing."""
    measured, bars = series.readings, np.nan_to_num(series.uncertainties)
    marks = () if limits is None else (limits.lower, limits.upper, limits.standard_value)
    finite = np.concatenate([measured - bars, measured + bars, marks])
    finite = finite[np.isfinite(finite)]
    if finite.size == 0:
        return []
    low, high = float(finite.min()), float(finite.max())
    air = 0.12 * (high - low) or max(abs(high) * 0.05, 1e-6)
    return [low - air, high + air]


def _hover_texts(measure: str, series: Series) -> list[str]:
    texts = []
    for pull, value, u, quality in zip(
        series.pulls, series.readings, series.uncertainties, series.quality, strict=True
    ):
        plus_minus = f" ± {bare_number(measure, u)}" if np.isfinite(u) else ""
        note = f"<br>{safe(quality)}" if quality else ""
        texts.append(f"pull {safe(pull)}: {number(measure, value)}{plus_minus}{note}")
    return texts


def _draw_findings(
    figure: go.Figure, at: tuple[int, int], measure: str, findings: pd.DataFrame, measured: MeasuredEdition
) -> None:
    if findings.empty:
        return
    order = {pull: place for place, pull in enumerate(dict.fromkeys(p.pull for p in measured.edition.pulls))}
    known = findings.loc[findings["pull"].isin(list(order))]
    farthest = known["deviation"].abs().rank(method="first", ascending=False) <= LABELS_PER_PANEL
    places = [order[pull] for pull in known["pull"]]
    is_higher = known["deviation"] > 0
    figure.add_trace(
        go.Scatter(
            x=places,
            y=known["value"].to_numpy(dtype=np.float64),
            mode="markers+text",
            marker={
                "size": 14,
                "symbol": ["triangle-up-open" if up else "triangle-down-open" for up in is_higher],
                "color": look.FINDING,
                "line": {"width": 2},
            },
            text=[
                f" {safe(str(word))} " if say else ""
                for word, say in zip(known["direction"], farthest, strict=True)
            ],
            textposition=["middle left" if place > len(order) / 2 else "middle right" for place in places],
            textfont={"size": 11, "color": look.FINDING},
            customdata=_finding_texts(measure, known),
            hovertemplate="%{customdata}<extra></extra>",
            showlegend=False,
            cliponaxis=False,
        ),
        row=at[0],
        col=at[1],
    )


def _finding_texts(measure: str, findings: pd.DataFrame) -> list[str]:
    columns = (findings[name] for name in ("pull", "direction", "value", "deviation"))
    return [
        f"pull {safe(str(pull))}: {safe(str(word))}, {number(measure, float(value))}; "
        f"{abs(spreads):.1f} spreads {'above' if spreads > 0 else 'below'} the good pulls"
        for pull, word, value, spreads in zip(*columns, strict=True)
    ]


def _add_legend(figure: go.Figure, *, is_trial: bool, is_provisional: bool) -> None:
    """Draw the legend from empty traces, so that each sign is explained once."""
    standard = "provisional standard" if is_provisional else "standard"
    limits = "trial limits: the spread is not well known" if is_trial else "limits of good pulls"
    band = {"size": 13, "symbol": "square", "color": look.BAND, "line": {"width": 1, "color": look.BAND_EDGE}}
    line = {"color": look.INK, "width": 1.5}
    ring = {"size": 12, "symbol": "circle-open", "color": look.INK, "line": {"width": 1.5}}
    signs = (
        ("markers", {"marker": {"size": 7, "color": look.SHEET_DOT}}, "a sheet ± its standard uncertainty"),
        ("lines+markers", {"line": line, "marker": ring}, standard),
        ("markers", {"marker": band}, limits),
        ("markers", {"marker": _sign("triangle-up-open")}, "higher: look again"),
        ("markers", {"marker": _sign("triangle-down-open")}, "lower: look again"),
    )
    for mode, style, name in signs:
        figure.add_trace(go.Scatter(x=[None], y=[None], mode=mode, name=name, hoverinfo="skip", **style))


def _sign(symbol: str) -> dict[str, object]:
    return {"size": 12, "symbol": symbol, "color": look.FINDING, "line": {"width": 2}}
