"""Panel to check an edition: choose it, run the check, read verdicts, chart and the sheet beside the standard."""

from pathlib import Path
from threading import Thread
from typing import Any

import ipywidgets as widgets

from proofkit.check import CheckResult
from proofkit.figures.words import measure_word
from proofkit.widgets import views
from proofkit.widgets.running import Places, run_check
from proofkit.widgets.state import (
    ALL_REGIONS,
    AS_WRITTEN,
    CheckState,
    choose,
    choose_standard,
    measures_of,
    open_folder,
    regions_of,
)
from proofkit.widgets.store import CheckStore

_LABEL = {"description_width": "110px"}


class CheckPanel(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """Choose an edition and its standard, run the check, look at what it found."""

    def __init__(self, folder: Path | None, places: Places) -> None:
        self.store = CheckStore()
        self._places = places
        self._shown: CheckState | None = None
        self._showing = False
        wide, narrow = (widgets.Layout(width=width, max_width="100%") for width in ("700px", "400px"))
        self.folder = widgets.Text(
            str(folder or ""),
            description="Edition folder",
            continuous_update=False,
            layout=wide,
            style=_LABEL,
        )
        self.standard = widgets.Dropdown(description="Standard", layout=narrow, style=_LABEL)
        self.measure = widgets.Dropdown(description="Measure", layout=narrow, style=_LABEL)
        self.region = widgets.Dropdown(description="Region", layout=narrow, style=_LABEL)
        self.pull = widgets.Dropdown(description="Sheet", layout=narrow, style=_LABEL)
        self.start = widgets.Button(description="Check the edition", layout=widgets.Layout(width="170px"))
        self.notice, self.progress, self.verdicts, self.beside = (widgets.HTML() for _ in range(4))
        self.chart = widgets.Output()
        choosing = [self.folder, widgets.HBox([self.standard, self.start]), self.progress, self.notice]
        self.looking = widgets.VBox(
            [self.verdicts, widgets.HBox([self.measure, self.region]), self.chart, self.pull, self.beside]
        )
        super().__init__([widgets.HTML(views.style()), *choosing, self.looking])
        self.add_class("proofkit-check")
        self._listen()
        self._show(self.store.state)
        if folder is not None:
            self.store.run(open_folder, folder)

    @property
    def result(self) -> CheckResult | None:
        """What the last check found; None before one ended well."""
        return self.store.state.result

    def run(self) -> CheckResult | None:
        """Check the edition and wait for the end; None when the notice says why it could not be done."""
        result = run_check(self.store, self._places, self._tell)
        self.progress.value = ""
        return result

    def _tell(self, what: str, done: int, total: int) -> None:
        self.progress.value = views.progress(what, done, total)

    def _listen(self) -> None:
        self.store.observe(lambda change: self._show(change["new"]), "state")
        self.start.on_click(lambda _button: Thread(target=self.run, name="check").start())
        self.folder.observe(lambda change: self._step(open_folder, Path(change["new"])), "value")
        self.standard.observe(lambda change: self._step(choose_standard, change["new"]), "value")
        self.measure.observe(lambda change: self._step(choose, measure=change["new"]), "value")
        self.region.observe(lambda change: self._step(choose, region=change["new"]), "value")
        self.pull.observe(lambda change: self._step(choose, pull=change["new"]), "value")

    def _step(self, step: Any, *chosen: Any, **named: Any) -> None:  # noqa: ANN401 -- checked by CheckStore.run
        if not self._showing:  # a control that is being set by the panel is no choice of a person
            self.store.run(step, *chosen, **named)

    def _show(self, state: CheckState) -> None:
        before, self._shown = self._shown, state
        self._showing = True
        try:
            self._show_controls(state)
        finally:
            self._showing = False
        self.notice.value = views.notice(state)
        if before is None or before.result is not state.result:
            self.verdicts.value = views.verdicts(state)
            self.chart.outputs = views.chart(state)
            self.beside.value = views.beside(state)
            return
        if (before.measure, before.region) != (state.measure, state.region):
            self.chart.outputs = views.chart(state)
        if before.pull != state.pull:
            self.beside.value = views.beside(state)

    def _show_controls(self, state: CheckState) -> None:
        self.start.disabled = state.is_running or state.folder is None
        self.folder.disabled = self.standard.disabled = state.is_running
        self.looking.layout.display = "none" if state.result is None else ""
        standards = [("as edition.toml says", AS_WRITTEN), *((f"pull {pull}", pull) for pull in state.pulls)]
        _offer(self.standard, standards, state.standard)
        if state.result is not None:
            _offer(self.measure, [(measure_word(m), m) for m in measures_of(state.result)], state.measure)
            regions = [("all regions", ALL_REGIONS), *((region, region) for region in regions_of(state))]
            _offer(self.region, regions, state.region)
            _offer(self.pull, [(f"pull {pull}", pull) for pull in state.pulls], state.pull)


def _offer(control: widgets.Dropdown, options: list[tuple[str, str]], value: str) -> None:
    """Set choices and choice, touching only what changed: a set control is redrawn in the browser."""
    if list(control.options) != options:
        control.options = options
    if control.value != value and value in {choice for _, choice in options}:
        control.value = value


def check_panel(
    folder: Path | str | None = None, *, out: Path | str | None = None, ledger_url: str | None = None
) -> CheckPanel:
    """Return the panel that checks an edition.

    Parameters
    ----------
    folder : Path or str, optional
        Edition to open.
    out : Path or str, optional
        Folder for tables and report, results/ in the edition when left out.
    ledger_url : str, optional
        File or database address of the ledger, ledger.sqlite in the edition when left out.

    Returns
    -------
    CheckPanel
        A widget; its method `run` checks and waits, as the button does without waiting. What is wrong with a
        folder or scan is said on the panel in a sentence.
    """
    places = Places(None if out is None else Path(out), ledger_url)
    return CheckPanel(None if folder is None else Path(folder), places)
