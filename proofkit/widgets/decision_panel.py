"""Decision: what a person decides about the sheet under the eye; entries are added, never changed.

Taking back is an entry too.
"""

import html

import ipywidgets as widgets
import pandas as pd

from proofkit.errors import ProofkitError
from proofkit.ledger.deciding import decide, read_decisions, standing
from proofkit.ledger.decisions import DECISION_WORDS, TAKEN_BACK, EntryWord, standing_entry
from proofkit.widgets.controls import button, dropdown, text, words
from proofkit.widgets.state import BenchState, changed, say, take_decisions
from proofkit.widgets.store import BenchStore
from proofkit.widgets.work import Places

UNDECIDED = ""


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
        self.back = button(
            "Take it back",
            self._take_back,
            name="Take back the decision that stands; the entry stays in the ledger",
        )
        self.entries = widgets.HTML()
        choosing = [self.about, self.decision, self.reason, self.initials]
        super().__init__([*choosing, widgets.HBox([self.write, self.back]), self.entries])
        store.observe(lambda change: self._show(change["old"], change["new"]), "state")

    def _write(self) -> None:
        state = self._store.state
        if self.decision.value == UNDECIDED:
            self._store.run(say, f"Nothing was written. Choose one of {', '.join(DECISION_WORDS)}.")
            return
        self._add(state, self.decision.value)

    def _take_back(self) -> None:
        self._add(self._store.state, TAKEN_BACK)

    def _add(self, state: BenchState, word: EntryWord) -> None:
        if state.folder is None:
            return
        try:
            table = decide(
                state.folder,
                state.pull,
                word,
                reason=self.reason.value,
                by=self.initials.value,
                ledger_url=self._places.ledger_url,
            )
        except ProofkitError as error:
            self._store.run(say, str(error))
            return
        self.decision.value, self.reason.value = UNDECIDED, ""
        self._store.run(take_decisions, table, notice_of(table, state.pull, word))

    def _show(self, before: BenchState, state: BenchState) -> None:
        if before.folder != state.folder and state.folder is not None and state.decided is None:
            self._read(state)
            return
        if changed(before, state, "pull", "decided") or not self.about.value:
            self.about.value = f"<h3>Pull {html.escape(state.pull)}</h3>" if state.pull else ""
            self.write.disabled = not state.pull
            rows = entries_about(state)
            self.back.disabled = standing_entry([row["decision"] for row in rows]) is None
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


def notice_of(table: pd.DataFrame, pull: str, word: EntryWord) -> str:
    """Return what an entry that was just added comes to."""
    if word != TAKEN_BACK:
        return f"Pull {pull}: {word}."
    row = standing(table).get(pull)
    left = (
        "nothing is decided about it now" if row is None else f"{row['decision']} by {row['by']} stands again"
    )
    return f"Pull {pull}: taken back; {left}."


def entries_html(rows: list[dict[str, str]]) -> str:
    """Return decisions as a list, the last one first and the one that counts marked; all text is escaped."""
    if not rows:
        return words("Nothing was decided about this sheet.", "aside")
    items, counting = [], standing_entry([row["decision"] for row in rows])
    for number, row in reversed(list(enumerate(rows))):
        when = html.escape(row["at"][:16].replace("T", " "))
        reason = f": {html.escape(row['reason'])}" if row["reason"] else ""
        counts = number == counting
        marked, tag = ('class="counts" aria-current="true"', "b") if counts else ('class="past"', "span")
        items.append(
            f"<li {marked}><{tag}>{html.escape(row['decision'])}</{tag}>{reason} "
            f"<span>{html.escape(row['by'])}, {when}</span></li>"
        )
    none = (
        "" if counting is not None else words("No decision stands: what was decided was taken back.", "aside")
    )
    return f'{none}<ul class="entries" aria-label="Decisions, the last one first">{"".join(items)}</ul>'
