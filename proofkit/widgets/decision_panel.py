"""Decision: what a person decides about the sheet under the eye; entries are added, never changed."""

import html

import ipywidgets as widgets
import pandas as pd

from proofkit.errors import ProofkitError
from proofkit.ledger.deciding import decide, read_decisions
from proofkit.ledger.decisions import DECISION_WORDS
from proofkit.widgets.controls import button, dropdown, text, words
from proofkit.widgets.state import BenchState, changed, say, take_decisions
from proofkit.widgets.store import BenchStore
from proofkit.widgets.work import Places

UNDECIDED = ""
TAKEN_BACK = "taken back"
"""Reason of an entry that stands for the one before the last."""


class DecisionPanel(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """Writes decisions to the ledger and shows all that were made about a sheet."""

    def __init__(self, store: BenchStore, places: Places) -> None:
        self._store = store
        self._places = places
        self.about = widgets.HTML()
        self.decision = dropdown("Decision")
        self.decision.options = [("choose", UNDECIDED), *((word, word) for word in DECISION_WORDS)]
        self.decision.value = UNDECIDED
        self.reason = text("Reason", placeholder="in your own words")
        self.initials = text("Initials", placeholder="who decides")
        self.write = button("Write it down", self._write, name="Write this decision to the ledger")
        self.back = button("Take the last one back", self._take_back)
        self.entries = widgets.HTML()
        choosing = [self.about, self.decision, self.reason, self.initials]
        super().__init__([*choosing, widgets.HBox([self.write, self.back]), self.entries])
        store.observe(lambda change: self._show(change["old"], change["new"]), "state")

    def _write(self) -> None:
        state = self._store.state
        if self.decision.value == UNDECIDED:
            self._store.run(say, f"Nothing was written. Choose one of {', '.join(DECISION_WORDS)}.")
            return
        self._add(state, self.decision.value, self.reason.value, f"Pull {state.pull}: {self.decision.value}.")

    def _take_back(self) -> None:
        """Add an entry that says again what was decided before the last one."""
        state = self._store.state
        rows = entries_about(state)
        if len(rows) < 2:
            self._store.run(
                say,
                f"There is no earlier decision about pull {state.pull} to go back to. Write the one that holds.",
            )
            return
        last, before = rows[-1], rows[-2]
        reason = f"{TAKEN_BACK}: {last['decision']}"
        self._add(state, before["decision"], reason, f"Pull {state.pull}: back to {before['decision']}.")

    def _add(self, state: BenchState, decision: str, reason: str, notice: str) -> None:
        if state.folder is None:
            return
        word = next((known for known in DECISION_WORDS if known == decision), DECISION_WORDS[0])
        try:
            table = decide(
                state.folder,
                state.pull,
                word,
                reason=reason,
                by=self.initials.value,
                ledger_url=self._places.ledger_url,
            )
        except ProofkitError as error:
            self._store.run(say, str(error))
            return
        self.decision.value, self.reason.value = UNDECIDED, ""
        self._store.run(take_decisions, table, notice)

    def _show(self, before: BenchState, state: BenchState) -> None:
        if before.folder != state.folder and state.folder is not None and state.decided is None:
            self._read(state)
            return
        if changed(before, state, "pull", "decided") or not self.about.value:
            self.about.value = f"<h3>Pull {html.escape(state.pull)}</h3>" if state.pull else ""
            self.write.disabled = not state.pull
            rows = entries_about(state)
            self.back.disabled = not rows
            self.entries.value = entries_html(rows)

    def _read(self, state: BenchState) -> None:
        """Ask the ledger what was decided before; an edition without a ledger has nothing decided."""
        if state.folder is None or not self._places.has_ledger(state.folder):
            return
        try:
            table = read_decisions(state.folder, self._places.ledger_url)
        except ProofkitError as error:
            self._store.run(say, str(error))
            return
        self._store.run(take_decisions, table)


def entries_about(state: BenchState) -> list[dict[str, str]]:
    """Return all decisions about the sheet under the eye, in the order in which they were made."""
    table: pd.DataFrame | None = state.decided
    if table is None:
        return []
    rows = table.loc[table["pull"] == state.pull].to_dict("records")
    return [{str(key): str(value) for key, value in row.items()} for row in rows]


def entries_html(rows: list[dict[str, str]]) -> str:
    """Return decisions as a list, the one that counts first; all text is escaped."""
    if not rows:
        return words("Nothing was decided about this sheet.", "aside")
    items = []
    for number, row in enumerate(reversed(rows)):
        when = html.escape(row["at"][:16].replace("T", " "))
        reason = f": {html.escape(row['reason'])}" if row["reason"] else ""
        kind = "counts" if number == 0 else "past"
        items.append(
            f'<li class="{kind}"><b>{html.escape(row["decision"])}</b>{reason} '
            f"<span>{html.escape(row['by'])}, {when}</span></li>"
        )
    return f'<ul class="entries" aria-label="Decisions, the last one first">{"".join(items)}</ul>'
