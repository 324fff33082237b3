"""Regions: the list, the chosen one in numbers, and what can be done with it."""

import ipywidgets as widgets

from proofkit.errors import ProofkitError
from proofkit.folder.edition import WORKS
from proofkit.widgets.controls import button, dropdown, offer, text, words
from proofkit.widgets.region_steps import (
    add_region,
    choose_region,
    parse_corners,
    redo,
    remove_region,
    rename_region,
    set_bounds,
    set_corners,
    set_work,
    undo,
)
from proofkit.widgets.sheet_panel import SheetPanel
from proofkit.widgets.state import BenchState, say
from proofkit.widgets.store import BenchStore

_EDGES = (("Left", 0), ("Top", 1), ("Right", 2), ("Bottom", 3))

HELP = (
    "Draw on the sheet with Rectangle or Polygon, or type edges or corners in plate mm and press New. Each change is "
    "written to regions.csv at once."
)


class RegionPanel(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """Edits regions by typed millimetres; the sheet edits the same ones by mouse."""

    def __init__(self, store: BenchStore, sheet: SheetPanel) -> None:
        self._store = store
        self._sheet = sheet
        self._showing = False
        self.region = dropdown("Region")
        self.name = text("Name")
        self.work = dropdown("Work")
        self.work.options, self.work.value = [(work, work) for work in WORKS], WORKS[0]
        self.edges = [
            widgets.FloatText(
                description=f"{edge}, mm",
                step=0.1,
                continuous_update=False,
                layout=widgets.Layout(width="48%"),
                style={"description_width": "84px"},
            )
            for edge, _ in _EDGES
        ]
        self.corners = text("Corners", placeholder="x y, x y, x y, in mm")
        self.new = button(
            "New", self._add, name="New region from the corners typed above, else from the edges"
        )
        self.move = button("Set edges", self._set, name="Give the chosen region the edges typed above")
        self.shape = button(
            "Set corners", self._set_corners, name="Give the chosen region the corners typed above"
        )
        self.remove = button("Remove", lambda: store.run(remove_region, store.state.chosen))
        self.undo = button("Take back", lambda: store.run(undo), name="Take back the last change of regions")
        self.redo = button("Bring back", lambda: store.run(redo), name="Bring back what was taken back")
        self.remark = widgets.HTML()
        left, top, right, bottom = self.edges
        super().__init__(
            [
                self.region,
                self.name,
                self.work,
                widgets.HBox([left, right]),
                widgets.HBox([top, bottom]),
                self.corners,
                widgets.HBox([self.new, self.move, self.shape]),
                widgets.HBox([self.remove, self.undo, self.redo]),
                self.remark,
            ]
        )
        self._listen()
        self._show(store.state)

    def _listen(self) -> None:
        store = self._store
        store.observe(lambda change: self._show(change["new"]), "state")
        self.region.observe(lambda change: self._step(choose_region, change["new"]), "value")
        self.name.observe(
            lambda change: self._step(rename_region, store.state.chosen, change["new"]), "value"
        )
        self.work.observe(lambda change: self._step(set_work, store.state.chosen, change["new"]), "value")

    def _step(self, step: object, *chosen: object) -> None:
        if self._showing:  # a control that is being set by the panel is no choice of a person
            return
        if step is not choose_region and not self._store.state.chosen:
            return
        if not self._store.run(step, *chosen):  # type: ignore[arg-type]  # steps differ in what they take
            self._show(self._store.state)  # what was refused is not left standing in the control

    def _typed(self) -> tuple[float, float, float, float]:
        left, top, right, bottom = (float(edge.value) for edge in self.edges)
        return left, top, right, bottom

    def _add(self) -> None:
        x0, y0, x1, y1 = self._typed()
        chosen = self._store.state.chosen
        try:
            corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
            if self.corners.value.strip() and not chosen:
                corners = parse_corners(self.corners.value)
            self._store.run(add_region, corners, self.work.value or "lines", self._sheet.plate_mm)
        except ProofkitError as error:
            self._store.run(say, str(error))

    def _set(self) -> None:
        try:
            self._store.run(set_bounds, self._store.state.chosen, self._typed(), self._sheet.plate_mm)
        except ProofkitError as error:
            self._store.run(say, str(error))

    def _set_corners(self) -> None:
        try:
            corners = parse_corners(self.corners.value)
            self._store.run(set_corners, self._store.state.chosen, corners, self._sheet.plate_mm)
        except ProofkitError as error:
            self._store.run(say, str(error))

    def _show(self, state: BenchState) -> None:
        self._showing = True
        try:
            self._show_controls(state)
        finally:
            self._showing = False

    def _show_controls(self, state: BenchState) -> None:
        named = [(region.name, region.name) for region in state.regions]
        offer(self.region, [("none chosen", ""), *named], state.chosen)
        chosen = next((region for region in state.regions if region.name == state.chosen), None)
        for control in (self.name, self.move, self.shape, self.remove):
            control.disabled = chosen is None
        self.undo.disabled, self.redo.disabled = not state.past, not state.future
        if chosen is None:
            self.name.value = ""
            self.remark.value = words(HELP, "aside")
            return
        self.name.value, self.work.value = chosen.name, chosen.work
        for (_, place), edge in zip(_EDGES, self.edges, strict=True):
            edge.value = round(chosen.outline_mm.bounds[place], 3)
        corners = list(chosen.outline_mm.exterior.coords)[:-1]
        self.corners.value = ", ".join(f"{x:g} {y:g}" for x, y in corners)
        about = f"{len(corners)} corners, {chosen.outline_mm.area:.1f} mm²."
        if chosen.proposed:
            about += " Proposed by proofkit; give it another name to take it over."
        self.remark.value = words(about, "aside")
