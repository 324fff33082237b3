"""Proof drawer: the scans of the edition as thumbnails in order of printing, with what is wrong on their cards."""

from pathlib import Path
from threading import Thread
from typing import Any

import anywidget
import traitlets

from proofkit.errors import ProofkitError
from proofkit.folder.edition import Edition, Pull
from proofkit.ledger.deciding import standing
from proofkit.looking.thumbnails import thumbnail
from proofkit.report.cards import designation, sheet_picture
from proofkit.report.pictures import data_uri
from proofkit.report.sentences import verdicts
from proofkit.widgets.state import BenchState, changed, choose, standard_pull
from proofkit.widgets.store import BenchStore

THUMB_PX = 132
"""Longest side of a thumbnail. [px]"""


class ProofDrawer(anywidget.AnyWidget):
    """Cards of all pulls; the chosen one is the sheet under the eye."""

    _esm = Path(__file__).with_name("proof_drawer.js")
    sheets: traitlets.List[Any] = traitlets.List().tag(sync=True)
    current = traitlets.Unicode("").tag(sync=True)

    def __init__(self, store: BenchStore) -> None:
        super().__init__()
        self._store = store
        self._edition: Edition | None = None
        self._seen: dict[str, str] = {}
        self._faults: dict[str, str] = {}
        store.observe(lambda change: self._show(change["old"], change["new"]), "state")
        self.observe(lambda change: store.run(choose, pull=change["new"]), "current")

    def _show(self, before: BenchState, state: BenchState) -> None:
        if self.current != state.pull:
            self.current = state.pull
        if not changed(before, state, "edition", "result", "decided", "standard"):
            return
        if before.folder != state.folder or (state.result is None and before.edition is not state.edition):
            self._edition, self._seen, self._faults = state.edition, {}, {}
            Thread(target=self._read_scans, args=(state.edition,), name="thumbnails", daemon=True).start()
        self._draw(state)

    def _read_scans(self, edition: Edition | None) -> None:
        """Fill the cards of scans that were not measured yet, one after another."""
        for pull in () if edition is None else edition.pulls:
            if self._edition is not edition or self._store.state.result is not None:
                return  # another edition was opened, or the check has pictures of all sheets
            self._read_scan(edition, pull)  # type: ignore[arg-type]  # an edition, as it has pulls
            self._draw(self._store.state)

    def _read_scan(self, edition: Edition, pull: Pull) -> None:
        try:
            self._seen[pull.pull] = data_uri(thumbnail(edition, pull, THUMB_PX))
        except ProofkitError as error:
            self._faults[pull.pull] = str(error)

    def _draw(self, state: BenchState) -> None:
        self.sheets = cards_of(state, self._seen, self._faults)


def cards_of(state: BenchState, seen: dict[str, str], faults: dict[str, str]) -> list[dict[str, str]]:
    """Return what stands on the cards, in order of printing.

    Parameters
    ----------
    state : BenchState
    seen : dict
        Pull -> data address of its thumbnail, for sheets that were not measured.
    faults : dict
        Pull -> why its scan cannot be read.
    """
    if state.edition is None:
        return []
    decided = {} if state.decided is None else standing(state.decided)
    result = state.result
    said = {} if result is None else verdicts(result.measured, result.judged)
    causes = {} if result is None else _causes(state)
    names = {pull.pull: pull.notes.get("designation", "") for pull in state.edition.pulls}
    cards = []
    for pull in state.pulls:
        picture, verdict, fault = seen.get(pull, ""), said.get(pull, ""), faults.get(pull, "")
        if result is not None:
            picture = sheet_picture(result.measured, pull, THUMB_PX) or picture
            fault = result.failures.get(pull, fault)
            names[pull] = designation(result.measured, pull)
        elif pull == standard_pull(state):
            verdict = "standard"
        row = decided.get(pull)
        cards.append(
            {
                "pull": pull,
                "designation": names.get(pull, ""),
                "verdict": verdict,
                "kind": verdict.replace(" ", "-"),
                "causes": causes.get(pull, ""),
                "decided": "" if row is None else f"{row['decision']}, {row['by']}",
                "fault": fault,
                "picture": picture,
            }
        )
    return cards


def _causes(state: BenchState) -> dict[str, str]:
    """Return the first cause to weigh of each flagged pull, as a question."""
    if state.result is None:
        return {}
    table = state.result.judged.judgement
    again = table.loc[table["verdict"] == "look again"]
    return {
        str(pull): f"{str(causes).split(';', maxsplit=1)[0].strip()}?"
        for pull, causes in zip(again["pull"], again["causes"], strict=True)
        if str(causes)
    }
