"""Charts of the bench: consistency, map of deviations, tones, and the cut; a point leads to its sheet."""

import json
from pathlib import Path
from typing import Any

import anywidget
import ipywidgets as widgets
import plotly.graph_objects as go
import traitlets

from proofkit.errors import ProofkitError
from proofkit.figures import consistency, deviation_map, tone_distributions
from proofkit.figures.cut import Course, cut_profile
from proofkit.figures.series import pull_order, regions_with
from proofkit.figures.words import SHEET, measure_word
from proofkit.looking import cut_across
from proofkit.report.sentences import looks_first
from proofkit.widgets.controls import dropdown, offer, words
from proofkit.widgets.sheet_panel import SheetPanel
from proofkit.widgets.state import ALL_REGIONS, BenchState, changed, choose, look_at, measures_of, regions_of
from proofkit.widgets.store import BenchStore

PLOTLY_TYPE = "application/vnd.plotly.v1+json"
"""Kind of output that JupyterLab draws as a chart."""

TONE_PULLS = 6
"""Pulls whose tones are drawn beside each other."""


class ChartPoints(anywidget.AnyWidget):
    """Hears which pull was pointed at in the charts around it, and goes through their points by keys."""

    _esm = Path(__file__).with_name("chart_points.js")
    pulls: traitlets.List[Any] = traitlets.List().tag(sync=True)
    """Pulls in the order of the charts' axis; none where charts lead to no sheet."""
    current = traitlets.Unicode("").tag(sync=True)
    """Pull under the eye, from which keys start."""


def drawn(figure: go.Figure, name: str) -> dict[str, object]:
    """Return a chart as an output of a notebook, and in words for those who do not see it.

    JupyterLab draws this kind of output with the chart library that it has loaded already, so that a chart costs
    some kB; it needs no channel back to Python.
    """
    chart = json.loads(str(figure.to_json()))
    # Nothing that a mouse can do and keys cannot: no zoom by dragging an axis, no buttons that come with the mouse.
    for axis in (key for key in chart["layout"] if key.startswith(("xaxis", "yaxis"))):
        chart["layout"][axis]["fixedrange"] = True
    chart["config"] = {"displayModeBar": False, "doubleClick": False}
    data = {PLOTLY_TYPE: chart, "text/plain": name}
    return {"output_type": "display_data", "data": data, "metadata": {}}


class ConsistencyPanel(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """One measure over the order of printing, and the map of all deviations."""

    def __init__(self, store: BenchStore) -> None:
        self._store = store
        self._showing = False
        self.measure = dropdown("Measure", width="340px")
        self.region = dropdown("Region", width="340px")
        self.chart, self.map, self.tones = widgets.Output(), widgets.Output(), widgets.Output()
        self.points = ChartPoints()
        charts = [self.points, self.chart, self.map, self.tones]
        super().__init__([widgets.HBox([self.measure, self.region]), *charts])
        self.add_class("proofkit-charts")
        store.observe(lambda change: self._show(change["old"], change["new"]), "state")
        self.measure.observe(lambda change: self._chosen(measure=change["new"]), "value")
        self.region.observe(lambda change: self._chosen(region=change["new"]), "value")
        self.points.on_msg(self._clicked)

    def _chosen(self, **named: str) -> None:
        if not self._showing:
            self._store.run(choose, **named)

    def _clicked(self, _widget: object, message: dict[str, Any], _buffers: object) -> None:
        state, pull = self._store.state, str(message.get("pull", ""))
        if pull in state.pulls:
            self._store.run(look_at, pull, str(message.get("row", "")) or self._panel_region(message))

    def _panel_region(self, message: dict[str, Any]) -> str:
        """Return the region of the panel that was pointed into; panels of a chart are numbered like its axes."""
        number = str(message.get("panel", "")).removeprefix("x") or "1"
        shown = self._regions_shown(self._store.state)
        return shown[int(number) - 1] if number.isdecimal() and int(number) <= len(shown) else ""

    def _regions_shown(self, state: BenchState) -> list[str]:
        if state.result is None:
            return []
        if state.region != ALL_REGIONS:
            return [state.region]
        found = state.result.judged.findings
        with_findings = set(found.loc[found["measure"] == state.measure, "region"])
        return sorted(regions_of(state), key=lambda region: region not in with_findings)

    def _show(self, before: BenchState, state: BenchState) -> None:
        result = state.result
        if result is None:
            for place in (self.chart, self.map, self.tones):
                place.outputs = ()
            return
        self._showing = True
        try:
            offer(self.measure, [(measure_word(name), name) for name in measures_of(result)], state.measure)
            regions = [("all regions", ALL_REGIONS), *((region, region) for region in regions_of(state))]
            offer(self.region, regions, state.region)
        finally:
            self._showing = False
        self.points.current = state.pull
        if before.result is not result:
            self.points.pulls = list(pull_order(result.measured))
            self.map.outputs = (drawn(deviation_map(result.judged, result.measured), "Map of deviations"),)
        if changed(before, state, "result", "measure", "region"):
            figure = consistency(result.measured, result.judged, state.measure, self._regions_shown(state))
            self.chart.outputs = (drawn(figure, f"{measure_word(state.measure)} over the pulls"),)
        if changed(before, state, "result", "measure", "region", "pull"):
            self.tones.outputs = self._tones(state)

    def _tones(self, state: BenchState) -> tuple[dict[str, object], ...]:
        """Return tones of the chosen region (else the first shown): the sheet under the eye, then flagged ones."""
        if state.result is None:
            return ()
        measured = state.result.measured
        named = [region for region in self._regions_shown(state) if region != SHEET]
        regions = named or list(regions_with(measured, "tone_fraction"))
        if not regions:
            return ()
        flagged = looks_first(measured, state.result.judged)
        pulls = [pull for pull in dict.fromkeys([state.pull, *flagged]) if pull != measured.standard]
        figure = tone_distributions(measured, regions[0], pulls[:TONE_PULLS])
        return (drawn(figure, f"Tones of {regions[0]}"),)


class CutPanel(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """Density along a cut drawn on the sheet or typed in plate mm, on the sheet and the standard."""

    def __init__(self, sheet: SheetPanel) -> None:
        self._sheet = sheet
        self.ends = [
            widgets.FloatText(
                description=label,
                step=0.1,
                layout=widgets.Layout(width="170px"),
                style={"description_width": "90px"},
            )
            for label in ("From x, mm", "From y, mm", "To x, mm", "To y, mm")
        ]
        self.draw = widgets.Button(description="Lay the cut", layout=widgets.Layout(width="auto"))
        self.remark = widgets.HTML(
            words("Draw a cut on the sheet with the tool Cut, or type its ends.", "aside")
        )
        self.chart = widgets.Output()
        super().__init__([widgets.HBox([*self.ends, self.draw]), self.remark, ChartPoints(), self.chart])
        self.add_class("proofkit-charts")
        self.draw.on_click(lambda _button: self._typed())
        sheet.view.observe(lambda change: self._show(change["new"]), "cut")
        sheet.view.observe(lambda _change: self._show(sheet.view.cut), "serial")

    def _typed(self) -> None:
        self._sheet.view.cut = [float(end.value) for end in self.ends]

    def _show(self, cut: list[float]) -> None:
        sheet, standard = self._sheet.sheet, self._sheet.standard
        if len(cut) != 4 or sheet is None:
            self.chart.outputs = ()
            return
        for end, value in zip(self.ends, cut, strict=True):
            end.value = round(value, 3)
        x0, y0, x1, y1 = cut
        length = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
        if length < 2 / sheet.scan_px_per_mm:
            self.remark.value = words(
                "The cut is shorter than two pixels of the scan. Draw it longer.", "aside"
            )
            return
        shown = [(f"pull {sheet.pull}", sheet)]
        if standard is not None:
            shown.append((f"standard, pull {standard.pull}", standard))
        try:
            cuts = [(name, cut_across(sight, (x0, y0), (x1, y1))) for name, sight in shown]
        except ProofkitError as error:
            self.remark.value = words(str(error), "notice")
            return
        self.remark.value = words(f"{length:.2f} mm, a sample per pixel of the scan.", "aside")
        courses = [Course(name, course.along_mm, course.density) for name, course in cuts]
        self.chart.outputs = (drawn(cut_profile(courses), "Density along the cut"),)
