"""How the sheets lie on the standard: stretch of the damp paper and what misfit is left."""

import numpy as np
import pandas as pd
import plotly.graph_objects as go
from plotly.subplots import make_subplots

from proofkit.figures import look
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
    places = np.arange(len(sheets))
    figure = make_subplots(rows=2, cols=1, shared_xaxes=True, vertical_spacing=0.13)
    figure.update_layout(
        template=look.template(), height=440, title_text="How the sheets lie on the standard"
    )
    texts = [f"pull {safe(str(pull))}" for pull in sheets["pull"]]
    for column, name, symbol, colour in (
        ("stretch_x", "across", "circle", look.SHEET_DOT),
        ("stretch_y", "down", "diamond-open", look.FINDING),
    ):
        figure.add_trace(
            go.Scatter(
                x=places,
                y=100 * (sheets[column].to_numpy(dtype=np.float64) - 1),
                mode="markers",
                marker={"size": 8, "symbol": symbol, "color": colour},
                name=f"stretch {name}",
                text=texts,
                hovertemplate="%{text}: %{y:+.3f} %<extra></extra>",
            ),
            row=1,
            col=1,
        )
    figure.update_yaxes(range=_reach(sheets), row=1)
    figure.add_hline(y=0, row=1, col=1, layer="below", line={"color": look.INK, "width": 1.5})
    figure.add_trace(
        go.Bar(
            x=places,
            y=sheets["misfit_um"].to_numpy(dtype=np.float64),
            marker={"color": look.BAND_EDGE},
            width=0.6,
            name="misfit",
            showlegend=False,
            text=texts,
            textposition="none",
            hovertemplate="%{text}: %{y:.1f} µm<extra></extra>",
        ),
        row=2,
        col=1,
    )
    step = max(1, -(-len(sheets) // 20))
    labels = [safe(str(pull)) for pull in sheets["pull"]]
    figure.update_xaxes(
        range=[-0.7, len(sheets) - 0.3], tickvals=list(places[::step]), ticktext=labels[::step]
    )
    figure.update_xaxes(title_text="pull, in order of printing", showticklabels=True, row=2)
    figure.update_yaxes(title_text="%", row=1)
    figure.update_yaxes(title_text="µm", rangemode="tozero", row=2)
    figure.add_annotation(look.panel_title(1, "stretch of the paper against the plate", domain=""))
    figure.add_annotation(look.panel_title(2, "misfit of lines after laying, rms", domain="2"))
    return figure


def _reach(sheets: pd.DataFrame) -> list[float]:
    """Return the range of the stretch axis: no stretch and every sheet, with some air, in per cent."""
    stretch = 100 * (sheets[["stretch_x", "stretch_y"]].to_numpy(dtype=np.float64).ravel() - 1)
    shown = np.append(stretch[np.isfinite(stretch)], 0.0)
    air = max(0.1 * float(np.ptp(shown)), 0.02)
    return [float(shown.min()) - air, float(shown.max()) + air]
