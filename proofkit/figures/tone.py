"""Tone distributions of a region: the heaps of paper, ground and ink core, each pull over the standard."""

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from proofkit.arrays import Floats
from proofkit.edition import HISTOGRAM_START_DENSITY, HISTOGRAM_STEP_DENSITY, MeasuredEdition
from proofkit.figures import look
from proofkit.figures.panels import lay_out
from proofkit.figures.series import safe

BINS_JOINED = 2
"""Bins of the kept histogram joined into one step of the drawing: 0.02 D."""

_ROOT_TICKS = (0.1, 1.0, 5.0, 15.0, 30.0, 60.0, 100.0)
"""Values written on the square root axis. [% of the region's area in one step]"""

SMALLEST_SHARE = 0.0005
"""Heaps under this share of the region are not used to choose how dark the axis reaches. [-]"""


PANEL_PX, GAP_PX = 144, 46

STANDARD_STYLE = {
    "fill": "tozeroy",
    "fillcolor": look.RULE,
    "line": {"color": look.BAND_EDGE, "width": 1, "shape": "hvh"},
}
PULL_STYLE = {"line": {"color": look.SHEET_DOT, "width": 2, "shape": "hvh"}}


def tone_distributions(measured: MeasuredEdition, region: str, pulls: Sequence[str]) -> go.Figure:
    """Return small panels, one per pull: its tones as a line over the standard's as a filled shape.

    The vertical axis is drawn in square roots, so that a small heap of ink cores shows beside a large heap of
    ground; the values written on it are true shares.

    Parameters
    ----------
    measured : MeasuredEdition
    region : str
        Name of a region.
    pulls : sequence of str
        Pulls to show; those without a histogram are left out.

    Returns
    -------
    go.Figure
    """
    shown = [pull for pull in pulls if (pull, region) in measured.histograms and pull != measured.standard]
    columns = min(3, max(1, len(shown)))
    rows = max(1, -(-len(shown) // columns))
    title = f"Tones of <i>{safe(region)}</i>"
    chart = lay_out(max(1, len(shown)), [PANEL_PX] * rows, columns=columns, gap_px=GAP_PX, title=title)
    standard = _shares(measured, measured.standard, region)
    drawn = [_shares(measured, pull, region) for pull in shown]
    for panel, pull, shares in zip(chart.panels, shown, drawn, strict=False):
        first = panel.number == 1
        under = {"name": _standard_name(measured), "showlegend": first, **STANDARD_STYLE}
        over = {"name": "the pull named above", "showlegend": first, **PULL_STYLE}
        chart.traces.append(_steps_of(standard) | under | panel.axes)
        chart.traces.append(_steps_of(shares) | over | panel.axes)
        chart.name_panel(panel, f"pull {safe(pull)}")
    reach = [shares for shares in (standard, *drawn) if shares.size]
    peak = max((float(shares.max()) for shares in reach), default=1.0)
    ticks = [tick for tick in _ROOT_TICKS if tick <= 100 * peak * 1.3]
    for panel in chart.panels:
        chart.axis("x", panel)["range"] = [HISTOGRAM_START_DENSITY, _darkest(reach)]
        chart.axis("y", panel).update(
            range=[0, float(np.sqrt(100 * peak)) * 1.08],
            tickvals=[float(np.sqrt(tick)) for tick in ticks],
            ticktext=[f"{tick:g}" for tick in ticks],
            showticklabels=panel.is_leftmost,
        )
        if panel.is_leftmost:
            step = BINS_JOINED * HISTOGRAM_STEP_DENSITY
            chart.axis("y", panel)["title"] = {"text": f"% of area per {step:g} D"}
        if panel.is_lowest:
            chart.axis("x", panel)["title"] = {"text": "density above bare paper, D"}
    return go.Figure(chart.finished())


def _standard_name(measured: MeasuredEdition) -> str:
    kind = "provisional standard" if measured.is_provisional else "standard"
    return f"{kind}, pull {safe(measured.standard)}"


def _middles(count: int) -> Floats:
    """Return the middle of each drawn step. [D]"""
    return np.asarray(
        HISTOGRAM_START_DENSITY + HISTOGRAM_STEP_DENSITY * BINS_JOINED * (np.arange(count) + 0.5),
        dtype=np.float64,
    )


def _shares(measured: MeasuredEdition, pull: str, region: str) -> Floats:
    """Return the share of the region's area in each drawn step; empty when the pull has no histogram."""
    counts = np.asarray(measured.histograms.get((pull, region), ()), dtype=np.float64)
    total = counts.sum()
    if not total:
        return np.empty(0)
    return np.asarray(
        counts[: counts.size // BINS_JOINED * BINS_JOINED].reshape(-1, BINS_JOINED).sum(axis=1) / total
    )


def _darkest(reach: Sequence[Floats]) -> float:
    """Return where the axis ends, in D: a little beyond the darkest step worth showing."""
    ends = [float(_middles(s.size)[s > SMALLEST_SHARE].max()) for s in reach if (s > SMALLEST_SHARE).any()]
    return max(ends, default=1.0) + 0.1


def _steps_of(shares: Floats) -> dict[str, object]:
    return {
        "type": "scatter",
        "x": _middles(shares.size),
        "y": np.sqrt(100 * shares),
        "customdata": 100 * shares,
        "mode": "lines",
        "hovertemplate": "%{x:.2f} D: %{customdata:.2f} %<extra></extra>",
    }
