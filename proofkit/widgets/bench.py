"""The bench: all panels around one sheet. Composition only."""

from importlib import resources
from pathlib import Path

import ipywidgets as widgets

from proofkit.check import CheckResult
from proofkit.report.sentences import summary
from proofkit.widgets.causes_panel import CausesPanel
from proofkit.widgets.chart_panel import ConsistencyPanel, CutPanel
from proofkit.widgets.controls import button, dropdown, offer, text, words
from proofkit.widgets.decision_panel import DecisionPanel
from proofkit.widgets.proof_drawer import ProofDrawer
from proofkit.widgets.pull_log_panel import PullLogPanel
from proofkit.widgets.region_panel import RegionPanel
from proofkit.widgets.region_steps import keep_mine, take_theirs
from proofkit.widgets.sheet_panel import SheetPanel
from proofkit.widgets.state import AS_WRITTEN, BenchState, choose_standard, open_folder, reread
from proofkit.widgets.store import BenchStore
from proofkit.widgets.table_panel import TablePanel
from proofkit.widgets.work import Checking, Places


class Bench(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """One edition: its sheets, regions, measures, causes and decisions."""

    def __init__(self, folder: Path | None, places: Places) -> None:
        self.store = BenchStore()
        store = self.store
        self._showing = False
        self.folder = text("Folder", width="520px")
        self.standard = dropdown("Standard", width="250px")
        self.title, self.summary, self.notice, self.progress = (widgets.HTML() for _ in range(4))
        self._checking = Checking(store, places, self._tell)
        self.start = button("Check the edition", self._checking.start)
        self.stop = button("Stop", self._checking.stop, name="Stop the check; what was measured is kept")
        self.opening = widgets.VBox([self.folder])
        self.reread = button("Read the folder again", lambda: store.run(reread))
        self.mine = button(
            "Write mine over it", lambda: store.run(keep_mine), name="Write the regions drawn here"
        )
        self.theirs = button("Take what the file says", lambda: store.run(take_theirs))
        self.dispute = widgets.HBox([self.theirs, self.mine])
        self.sheet = SheetPanel(store, places)
        self.drawer = ProofDrawer(store)
        self.regions = RegionPanel(store, self.sheet)
        self.causes = CausesPanel(store, places)
        self.decision = DecisionPanel(store, places)
        self.table = TablePanel(store)
        self.consistency = ConsistencyPanel(store)
        self.cut = CutPanel(self.sheet)
        self.pull_log = PullLogPanel(store)
        self.elsewhere = widgets.HBox([self.folder, self.reread])
        beside = tabs(
            [("Causes for and against", self.causes), ("Decision", self.decision), ("Regions", self.regions)]
        )
        below = tabs(
            [
                ("Edition table", self.table),
                ("Consistency", self.consistency),
                ("Cut", self.cut),
                ("Pull log", self.pull_log),
                ("Folder", self.elsewhere),
            ]
        )
        head = widgets.HBox([self.title, self.standard, self.start, self.stop])
        middle = widgets.HBox([self.drawer, self.sheet, beside])
        said = widgets.VBox([self.opening, self.summary, self.progress, self.notice, self.dispute])
        for part, name in (
            (head, "head"),
            (middle, "middle"),
            (beside, "beside"),
            (below, "below"),
            (said, "said"),
        ):
            part.add_class(f"proofkit-{name}")
        super().__init__([widgets.HTML(style()), head, said, middle, below])
        self.add_class("proofkit-bench")
        store.observe(lambda change: self._show(change["new"]), "state")
        self.folder.observe(lambda change: self._open(change["new"]), "value")
        self.standard.observe(lambda change: self._choose_standard(change["new"]), "value")
        self._show(store.state)
        if folder is not None:
            store.run(open_folder, folder)

    @property
    def result(self) -> CheckResult | None:
        """What the last check found; None before one ended well."""
        return self.store.state.result

    def run(self) -> CheckResult | None:
        """Check the edition and wait for the end; None when the notice says why it could not be done."""
        return self._checking.run()

    def _tell(self, what: str, done: int, total: int) -> None:
        self.progress.value = progress(what, done, total)

    def _open(self, folder: str) -> None:
        if not self._showing and folder.strip():
            self.store.run(open_folder, Path(folder.strip()).expanduser())

    def _choose_standard(self, pull: str) -> None:
        if not self._showing:
            self.store.run(choose_standard, pull)

    def _show(self, state: BenchState) -> None:
        self._showing = True
        try:
            self.start.disabled = state.is_running or state.edition is None
            self.stop.layout.display = "" if state.is_running else "none"
            self.folder.disabled = self.standard.disabled = self.reread.disabled = state.is_running
            self.dispute.layout.display = "" if state.is_disputed else "none"
            pulls = [("as edition.toml says", AS_WRITTEN), *((f"pull {pull}", pull) for pull in state.pulls)]
            offer(self.standard, pulls, state.standard)
            if state.folder is not None:
                self.folder.value = str(state.folder)
        finally:
            self._showing = False
        self.opening.layout.display = "" if state.edition is None else "none"
        self.title.value = heading(state)
        self.summary.value = in_short(state)
        self.notice.value = f'<div role="status">{words(state.notice, "notice")}</div>'


def heading(state: BenchState) -> str:
    """Return the title of the edition; its text is escaped."""
    if state.edition is None:
        return words("No edition is open. Write the folder of one below.", "title")
    return words(state.edition.title, "title")


def in_short(state: BenchState) -> str:
    """Return what the last check says of the edition; all text is escaped."""
    if state.result is None:
        return ""
    return words(" ".join(summary(state.result.measured, state.result.judged)), "summary")


def progress(what: str, done: int, total: int) -> str:
    """Return how far the work has come; nothing when there is none.

    >>> "3 of 8" in progress("measuring", 3, 8)
    True
    """
    if not what:
        return ""
    counted = f": {done} of {total}" if total > 1 else ""
    bar = f'<progress max="{max(total, 1)}" value="{done}" aria-label="{what}"></progress>'
    return f'<div class="progress">{bar} {what}{counted}</div>'


def tabs(panels: list[tuple[str, widgets.Widget]]) -> widgets.Tab:
    """Return panels of which one is seen at a time."""
    made = widgets.Tab([panel for _, panel in panels])
    for place, (name, _) in enumerate(panels):
        made.set_title(place, name)
    return made


def style() -> str:
    """Return the style sheet of the bench."""
    sheet = resources.files("proofkit.widgets").joinpath("bench.css").read_text(encoding="utf-8")
    return f"<style>{sheet}</style>"


def bench(
    folder: Path | str | None = None, *, out: Path | str | None = None, ledger_url: str | None = None
) -> Bench:
    """Return the bench for an edition.

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
    Bench
        A widget; its method `run` checks and waits, as the button does without waiting. What is wrong with a
        folder or scan is said on the bench in a sentence.
    """
    places = Places(None if out is None else Path(out), ledger_url)
    return Bench(None if folder is None else Path(folder), places)
