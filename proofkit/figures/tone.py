"""Tone distributions of a region: the heaps of paper, ground and ink core, each pull over the standard."""

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go
from plotly.subplots import make_subplots

from proofkit.arrays import Floats
from proofkit.edition import HISTOGRAM_START_DENSITY, HISTOGRAM_STEP_DENSITY, MeasuredEdition
from proofkit.figures import look
from proofkit.figures.series import safe

BINS_JOINED = 2
"""Bins of the kept histogram joined into one step of the drawing: 0.02 D."""

_ROOT_TICKS = (0.1, 1.0, 5.0, 15.0, 30.0, 60.0, 100.0)
"""Values written on the square root axis. [% of the region's area in one step]"""

SMALLEST_SHARE = 0.0005
"""Heaps under this share of the region are not used to choose how dark the axis reaches. [-]"""


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
    height = rows * 190 + 130
    figure = make_subplots(
        rows=rows, cols=columns, shared_xaxes=True, shared_yaxes=True,
        vertical_spacing=min(46 / (height - 110), 1 / rows), horizontal_spacing=0.03,
    )  # fmt: skip
    figure.update_layout(
        template=look.template(), height=height, title_text=f"Tones of <i>{safe(region)}</i>"
    )
    standard = _shares(measured, measured.standard, region)
    steps = _steps()
    reach = [standard]
    for index, pull in enumerate(shown):
        shares = _shares(measured, pull, region)
        reach.append(shares)
        at = {"row": index // columns + 1, "col": index % columns + 1}
        _draw(figure, at, steps, standard, is_standard=True, first=index == 0, name=_standard_name(measured))
        _draw(figure, at, steps, shares, is_standard=False, first=index == 0, name="the pull named above")
        figure.add_annotation(look.panel_title(index + 1, f"pull {safe(pull)}", domain=str(index + 1)))
    peak = max((float(np.nanmax(shares)) for shares in reach if shares.size), default=1.0)
    ticks = [tick for tick in _ROOT_TICKS if tick <= 100 * peak * 1.3]
    figure.update_yaxes(
        range=[0, np.sqrt(100 * peak) * 1.08],
        tickvals=[float(np.sqrt(tick)) for tick in ticks],
        ticktext=[f"{tick:g}" for tick in ticks],
    )
    figure.update_yaxes(title_text=f"% of area per {BINS_JOINED * HISTOGRAM_STEP_DENSITY:g} D", col=1)
    figure.update_xaxes(range=[HISTOGRAM_START_DENSITY, _darkest(reach, steps)])
    figure.update_xaxes(title_text="density above bare paper, D", showticklabels=True, row=rows)
    return figure


def _standard_name(measured: MeasuredEdition) -> str:
    kind = "provisional standard" if measured.is_provisional else "standard"
    return f"{kind}, pull {safe(measured.standard)}"


def _steps() -> Floats:
    """Return the middle of each drawn step, in D."""
    bins = HISTOGRAM_START_DENSITY + HISTOGRAM_STEP_DENSITY * BINS_JOINED * (np.arange(135) + 0.5)
    return np.asarray(bins, dtype=np.float64)


def _shares(measured: MeasuredEdition, pull: str, region: str) -> Floats:
    """Return the share of the region's area in each drawn step; empty when the pull has no histogram."""
    counts = np.asarray(measured.histograms.get((pull, region), ()), dtype=np.float64)
    total = counts.sum()
    if not total:
        return np.empty(0)
    return np.asarray(
        counts[: counts.size // BINS_JOINED * BINS_JOINED].reshape(-1, BINS_JOINED).sum(axis=1) / total
    )


def _darkest(shares: Sequence[Floats], steps: Floats) -> float:
    """Return where the axis ends, in D: a little beyond the darkest step worth showing."""
    ends = [float(steps[: s.size][s > SMALLEST_SHARE].max()) for s in shares if (s > SMALLEST_SHARE).any()]
    return max(ends, default=1.0) + 0.1


def _draw(
    figure: go.Figure,
    at: dict[str, int],
    steps: Floats,
    shares: Floats,
    *,
    is_standard: bool,
    first: bool,
    name: str,
) -> None:
    style: dict[str, object]
    if is_standard:
        style = {"fill": "tozeroy", "fillcolor": look.RULE, "line": {"color": look.BAND_EDGE, "width": 1}}
    else:
        style = {"line": {"color": look.SHEET_DOT, "width": 2}}
    figure.add_trace(
        go.Scatter(
            x=steps[: shares.size],
            y=np.sqrt(100 * shares),
            customdata=100 * shares,
            mode="lines",
            line_shape="hvh",
            name=name,
            showlegend=first,
            hovertemplate="%{x:.2f} D: %{customdata:.2f} %<extra></extra>",
            **style,
        ),
        **at,
    )
