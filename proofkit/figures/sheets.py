"""How the sheets lie on the standard: stretch of the damp paper and what misfit is left."""

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from proofkit.figures import look
from proofkit.figures.panels import lay_out
from proofkit.figures.series import safe


def stretch_and_misfit(sheets: pd.DataFrame) -> go.Figure:
    """Return stretch across and down, and the misfit left after laying, over the sheets in their order.

    Parameters
    ----------
    sheets : pd.DataFrame
        Table `sheets`, in pull order.

    Returns
    -------
    go.Figure
    """
    chart = lay_out(2, [130, 130], columns=1, gap_px=44, title="How the sheets lie on the standard")
    upper, lower = chart.panels
    places = np.arange(len(sheets))
    labels = [safe(str(pull)) for pull in sheets["pull"]]
    texts = [f"pull {label}" for label in labels]
    for column, name, symbol, colour in (
        ("stretch_x", "across", "circle", look.SHEET_DOT),
        ("stretch_y", "down", "diamond-open", look.FINDING),
    ):
        chart.traces.append(
            {
                "type": "scatter",
                "x": places,
                "y": 100 * (sheets[column].to_numpy(dtype=np.float64) - 1),
                "mode": "markers",
                "marker": {"size": 8, "symbol": symbol, "color": colour},
                "name": f"stretch {name}",
                "text": texts,
                "hovertemplate": "%{text}: %{y:+.3f} %<extra></extra>",
                **upper.axes,
            }
        )
    chart.traces.append(
        {
            "type": "bar",
            "x": places,
            "y": sheets["misfit_um"].to_numpy(dtype=np.float64),
            "marker": {"color": look.BAND_EDGE},
            "width": 0.6,
            "showlegend": False,
            "text": texts,
            "textposition": "none",
            "hovertemplate": "%{text}: %{y:.1f} µm<extra></extra>",
            **lower.axes,
        }
    )
    none = {"type": "line", "x0": 0, "x1": 1, "y0": 0, "y1": 0, "layer": "below"}
    chart.shapes.append({**none, "line": {"color": look.INK, "width": 1.5}, **upper.across})
    step = max(1, -(-len(sheets) // 20))
    for panel in chart.panels:
        ticks = {"tickvals": list(places[::step]), "ticktext": labels[::step]}
        chart.axis("x", panel).update({"range": [-0.7, len(sheets) - 0.3], **ticks})
    chart.axis("x", lower)["title"] = {"text": "pull, in order of printing"}
    chart.axis("y", upper).update(title={"text": "%"}, range=_reach(sheets))
    chart.axis("y", lower).update(title={"text": "µm"}, rangemode="tozero")
    chart.name_panel(upper, "stretch of the paper against the plate")
    chart.name_panel(lower, "misfit of lines after laying, rms")
    return go.Figure(chart.finished())


def _reach(sheets: pd.DataFrame) -> list[float]:
    """Return the range of the stretch axis: no stretch and every sheet, with some air, in per cent."""
    stretch = 100 * (sheets[["stretch_x", "stretch_y"]].to_numpy(dtype=np.float64).ravel() - 1)
    shown = np.append(stretch[np.isfinite(stretch)], 0.0)
    air = max(0.1 * float(np.ptp(shown)), 0.02)
    return [float(shown.min()) - air, float(shown.max()) + air]
