"""Edition table: pulls against regions for one measure, filtered by what was found; a cell leads to its place."""

from typing import Any

import ipywidgets as widgets
import numpy as np

from proofkit.figures.tables import edition_table
from proofkit.figures.words import SHEET, bare_number, measure_word, unit_of
from proofkit.ledger.deciding import standing
from proofkit.report.sentences import verdicts
from proofkit.widgets.causes_panel import NOTHING_YET
from proofkit.widgets.controls import dropdown, offer
from proofkit.widgets.state import BenchState, changed, choose, look_at, measures_of
from proofkit.widgets.store import BenchStore
from proofkit.widgets.table_view import TableView

EVERY, FLAGGED, FOUND = "every", "flagged", "found"
_FILTERS = (
    ("all pulls", EVERY),
    ("pulls to look at again", FLAGGED),
    ("pulls with a finding in this measure", FOUND),
)


class TablePanel(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """The numbers of the edition, one measure at a time."""

    def __init__(self, store: BenchStore) -> None:
        self._store = store
        self._showing = False
        self.measure = dropdown("Measure", width="340px")
        self.rows = dropdown("Show", width="340px")
        self.rows.options, self.rows.value = list(_FILTERS), EVERY
        self.table = TableView("Edition table", NOTHING_YET)
        super().__init__([widgets.HBox([self.measure, self.rows]), self.table])
        store.observe(lambda change: self._show(change["old"], change["new"]), "state")
        self.measure.observe(lambda change: self._chosen(change["new"]), "value")
        self.rows.observe(lambda _change: self._fill(self._store.state), "value")
        self.table.when("chosen", self._cell)

    def _chosen(self, measure: str) -> None:
        if not self._showing:
            self._store.run(choose, measure=measure)

    def _cell(self, pull: str, region: str, _value: str) -> None:
        self._store.run(look_at, pull, region)

    def _show(self, before: BenchState, state: BenchState) -> None:
        if state.result is None:
            self.table.nothing, self.table.rows = NOTHING_YET, []
            return
        self._showing = True
        try:
            offer(
                self.measure,
                [(measure_word(name), name) for name in measures_of(state.result)],
                state.measure,
            )
        finally:
            self._showing = False
        if changed(before, state, "result", "measure", "decided"):
            self._fill(state)
        self.table.current = state.pull

    def _fill(self, state: BenchState) -> None:
        if state.result is None:
            return
        measured, judged = state.result.measured, state.result.judged
        table = edition_table(measured, judged, state.measure)
        said = verdicts(measured, judged)
        decided = {} if state.decided is None else standing(state.decided)
        unit = unit_of(state.measure)
        regions = [str(region) for region in table.readings.columns]
        titles = [("pull", "Pull", "head"), ("verdict", "Verdict", "text"), ("decided", "Decided", "text")]
        fixed = [
            {"key": key, "title": title, "kind": kind, "goes": kind == "head"} for key, title, kind in titles
        ]
        heads = ["whole sheet" if region == SHEET else region for region in regions]
        cells = [
            {"key": region, "title": head, "kind": "number", "goes": True, "note": unit}
            for region, head in zip(regions, heads, strict=True)
        ]
        rows: list[dict[str, Any]] = []
        for pull, values in zip(table.readings.index, table.readings.to_numpy(), strict=True):
            marks = {region: word for region in regions if (word := table.findings.get((pull, region)))}
            if (self.rows.value == FLAGGED and said[pull] != "look again") or (
                self.rows.value == FOUND and not marks
            ):
                continue
            readings = dict(zip(regions, values, strict=True))
            words = {
                "pull": pull,
                "verdict": said[pull],
                "decided": decided.get(pull, {}).get("decision", ""),
            }
            shown = {region: bare_number(state.measure, readings[region]) for region in regions}
            rows.append(
                {
                    "id": pull,
                    "name": f"pull {pull}",
                    "kind": said[pull].replace(" ", "-"),
                    "cells": words | shown,
                    "marks": marks,
                    "sort": {region: float(v) for region, v in readings.items() if np.isfinite(v)},
                }
            )
        self.table.caption = (
            f"{measure_word(state.measure)}{f', {unit}' if unit else ''}, in order of printing"
        )
        self.table.columns = [*fixed, *cells]
        self.table.nothing = "No pull is left by this choice."
        self.table.rows = rows
