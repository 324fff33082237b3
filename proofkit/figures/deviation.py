"""Where and when the pile leaves the standard: regions against pulls, signed."""

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go
from plotly.subplots import make_subplots

from proofkit.arrays import Floats
from proofkit.edition import MeasuredEdition
from proofkit.figures import look
from proofkit.figures.series import limits_of, pull_axis, pull_order, regions_with, safe, series_of
from proofkit.figures.words import measure_word, number
from proofkit.judgement.types import Judged

SHOWN_SPREADS = 8.0
"""Deviation at which the colour scale ends. [spreads]"""

NUMBERED_SPREADS = 3.0
"""Deviation from which a cell carries its number. [spreads]"""

MEASURES = ("line_load_um", "plate_tone_density", "tone_fraction")
"""Line work, film and tone: read together they tell ink from wiping."""

ROW_PX = 24


def deviation_map(judged: Judged, measured: MeasuredEdition, measures: Sequence[str] = MEASURES) -> go.Figure:
    """Return regions against pulls, one block per measure, coloured by signed deviation in spreads.

    Parameters
    ----------
    judged : Judged
        Its limits give centre and spread of each region and measure; a pair without a spread stays empty.
    measured : MeasuredEdition
    measures : sequence of str
        Blocks to draw, top to bottom.

    Returns
    -------
    go.Figure
        Cells from `NUMBERED_SPREADS` on carry their signed number, findings are in bold.
    """
    blocks = [(measure, _deviations(judged, measured, measure)) for measure in measures]
    blocks = [(measure, block) for measure, block in blocks if block]
    heights = [len(block) for _, block in blocks] or [1]
    height = sum(heights) * ROW_PX + 44 * len(heights) + 120
    figure = make_subplots(
        rows=len(heights),
        cols=1,
        shared_xaxes=True,
        row_heights=heights,
        vertical_spacing=min(38 / (height - 110), 1 / len(heights)),
    )
    figure.update_layout(
        template=look.template(), height=height, title_text="Where the pulls leave the standard"
    )
    for index, (measure, block) in enumerate(blocks):
        _draw_block(figure, index + 1, measure, block, (judged, measured))
        figure.add_annotation(look.panel_title(index + 1, measure_word(measure), domain=str(index + 1)))
    figure.update_xaxes(**{**pull_axis(measured), "range": [-0.5, len(pull_order(measured)) - 0.5]})
    figure.update_xaxes(title_text="pull, in order of printing", showticklabels=True, row=len(heights))
    figure.update_yaxes(autorange="reversed", showgrid=False, ticks="")
    figure.update_layout(
        margin_b=52,
        coloraxis={
            "colorscale": [list(stop) for stop in look.FALLS_TO_RISES],
            "cmin": -SHOWN_SPREADS,
            "cmax": SHOWN_SPREADS,
            "colorbar": {
                "title": {"text": "spreads", "side": "right", "font": {"size": 11}},
                "thickness": 10,
                "len": 0.9,
                "tickvals": [-8, -4, 0, 4, 8],
                "ticktext": ["−8 lower", "−4", "0", "+4", "+8 higher"],
                "outlinewidth": 0,
                "tickfont": {"size": 11},
            },
        },
    )
    return figure


def _deviations(judged: Judged, measured: MeasuredEdition, measure: str) -> dict[str, Floats]:
    """Return region -> (pulls,) signed deviation of the first measurable scan of each pull, in spreads."""
    order = pull_order(measured)
    block: dict[str, Floats] = {}
    for region in regions_with(measured, measure):
        limits = limits_of(judged, measure, region)
        if limits is None or not limits.spread > 0:
            continue
        series = series_of(measured, measure, region)
        row = np.full(len(order), np.nan)
        for place, value in zip(series.places.astype(int)[::-1], series.readings[::-1], strict=True):
            if np.isfinite(value):
                row[place] = (value - limits.centre) / limits.spread
        block[region] = row
    return block


def _draw_block(
    figure: go.Figure,
    row: int,
    measure: str,
    block: dict[str, Floats],
    tables: tuple[Judged, MeasuredEdition],
) -> None:
    judged, measured = tables
    order = pull_order(measured)
    found = judged.findings.loc[judged.findings["measure"] == measure]
    marked = set(zip(found["pull"], found["region"], strict=True))
    z = np.vstack(list(block.values()))
    figure.add_trace(
        go.Heatmap(
            z=z,
            x=np.arange(len(order)),
            y=[safe(region) for region in block],
            coloraxis="coloraxis",
            xgap=1,
            ygap=1,
            text=[
                [
                    _cell(value, is_finding=(pull, region) in marked)
                    for pull, value in zip(order, values, strict=True)
                ]
                for region, values in block.items()
            ],
            texttemplate="%{text}",
            textfont={"size": 10},
            customdata=[
                [
                    _hover(measure, judged, region, pull, value)
                    for pull, value in zip(order, values, strict=True)
                ]
                for region, values in block.items()
            ],
            hovertemplate="%{customdata}<extra></extra>",
            hoverongaps=False,
        ),
        row=row,
        col=1,
    )


def _cell(value: float, *, is_finding: bool) -> str:
    if not np.isfinite(value) or (abs(value) < NUMBERED_SPREADS and not is_finding):
        return ""
    text = f"{value:+.0f}".replace("-", "−")
    return f"<b>{text}</b>" if is_finding else text


def _hover(measure: str, judged: Judged, region: str, pull: str, value: float) -> str:
    limits = limits_of(judged, measure, region)
    if limits is None or not np.isfinite(value):
        return ""
    absolute = number(measure, limits.centre + value * limits.spread)
    return f"pull {safe(pull)}, {safe(region)}: {absolute}, {value:+.1f} spreads"
