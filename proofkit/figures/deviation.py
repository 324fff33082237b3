"""Where and when the pile leaves the standard: regions against pulls, signed."""

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from proofkit.arrays import Floats
from proofkit.edition import MeasuredEdition
from proofkit.figures import look
from proofkit.figures.panels import lay_out
from proofkit.figures.series import Limits, limits_of, pull_axis, pull_order, regions_with, safe, series_of
from proofkit.figures.words import measure_word, number
from proofkit.judgement.types import Judged

SHOWN_SPREADS = 8.0
"""Deviation at which the colour scale ends. [spreads]"""

NUMBERED_SPREADS = 3.0
"""Deviation from which a cell carries its number. [spreads]"""

MEASURES = ("line_load_um", "plate_tone_density", "tone_fraction")
"""Line work, film and tone: read together they tell ink from wiping."""

ROW_PX, GAP_PX, BOTTOM_PX = 24, 38, 52

COLOURS = {
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
}
"""The scale, symmetric about the centre of the good pulls."""


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
    heights = [ROW_PX * len(block) for _, block in blocks] or [ROW_PX]
    title = "Where the pulls leave the standard"
    chart = lay_out(len(heights), heights, columns=1, gap_px=GAP_PX, title=title, bottom_px=BOTTOM_PX)
    for panel, (measure, block) in zip(chart.panels, blocks, strict=False):
        chart.traces.append(_cells(measure, block, judged, measured) | panel.axes)
        chart.name_panel(panel, measure_word(measure))
    pulls = len(pull_order(measured))
    for panel in chart.panels:
        chart.axis("x", panel).update(pull_axis(measured) | {"range": [-0.5, pulls - 0.5]})
        chart.axis("y", panel).update(autorange="reversed", showgrid=False, ticks="")
        if panel.is_lowest:
            chart.axis("x", panel)["title"] = {"text": "pull, in order of printing"}
    chart.layout["coloraxis"] = COLOURS
    return go.Figure(chart.finished())


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


def _cells(
    measure: str, block: dict[str, Floats], judged: Judged, measured: MeasuredEdition
) -> dict[str, object]:
    order = pull_order(measured)
    found = judged.findings.loc[judged.findings["measure"] == measure]
    marked = set(zip(found["pull"], found["region"], strict=True))
    limits = {region: limits_of(judged, measure, region) for region in block}
    return {
        "type": "heatmap",
        "z": np.vstack(list(block.values())),
        "x": np.arange(len(order)),
        "y": [safe(region) for region in block],
        "coloraxis": "coloraxis",
        "xgap": 1,
        "ygap": 1,
        "text": [
            [
                _cell(value, is_finding=(pull, region) in marked)
                for pull, value in zip(order, values, strict=True)
            ]
            for region, values in block.items()
        ],
        "texttemplate": "%{text}",
        "textfont": {"size": 10},
        "customdata": [
            [
                _hover(measure, limits[region], (pull, region), value)
                for pull, value in zip(order, values, strict=True)
            ]
            for region, values in block.items()
        ],
        "hovertemplate": "%{customdata}<extra></extra>",
        "hoverongaps": False,
    }


def _cell(value: float, *, is_finding: bool) -> str:
    if not np.isfinite(value) or (abs(value) < NUMBERED_SPREADS and not is_finding):
        return ""
    text = f"{value:+.0f}".replace("-", "−")
    return f"<b>{text}</b>" if is_finding else text


def _hover(measure: str, limits: Limits | None, place: tuple[str, str], value: float) -> str:
    if limits is None or not np.isfinite(value):
        return ""
    absolute = number(measure, limits.centre + value * limits.spread)
    return f"pull {safe(place[0])}, {safe(place[1])}: {absolute}, {f'{value:+.1f}'.replace('-', '−')} spreads"
