"""Pull log: what the printer writes down of each pull, a row to a sheet; what cannot be is refused and says why."""

from pathlib import Path

import ipywidgets as widgets

from proofkit.columns import PULL_LOG
from proofkit.errors import FolderError, ProofkitError
from proofkit.folder.guarded import check_unchanged, file_mark
from proofkit.record.log import LOG_FILE, Entry, enter, read_log
from proofkit.widgets.controls import button, text
from proofkit.widgets.state import BenchState, choose, say
from proofkit.widgets.store import BenchStore
from proofkit.widgets.table_view import TableView

NARROW = ("pull", "kind", "designation", "paper", "ink", "wiping", "pressure", "incident", "note")
"""Columns that are written most; the others stand to their right."""


class PullLogPanel(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """Edits pull_log.csv of the open edition."""

    def __init__(self, store: BenchStore) -> None:
        self._store = store
        self._mark = ""
        self.table = TableView("Pull log", "No pull was written down yet.")
        self.table.trouble = self._refused
        self.pull = text("New pull", placeholder="its number", width="240px")
        self.add = button("Add a row", self._add)
        self.again = button("Read the file again", lambda: self._read(store.state.folder))
        super().__init__([widgets.HBox([self.pull, self.add, self.again]), self.table])
        self.table.columns = _columns()
        self.table.when("written", self._write)
        self.table.when("chosen", self._choose)
        store.observe(lambda change: self._show(change["old"], change["new"]), "state")

    def _show(self, before: BenchState, state: BenchState) -> None:
        if before.folder != state.folder:
            self._read(state.folder)
        self.table.current = state.pull

    def _read(self, folder: Path | None) -> None:
        """Show what the file says; pulls of the edition that are not in it have an empty row."""
        entries: tuple[Entry, ...] = ()
        if folder is not None:
            try:
                self._mark = file_mark(folder / LOG_FILE)
                entries = read_log(folder)
            except ProofkitError as error:
                self._store.run(say, str(error))
        self._fill(entries)

    def _fill(self, entries: tuple[Entry, ...]) -> None:
        state = self._store.state
        written = {entry["pull"]: entry for entry in entries}
        notes = {} if state.edition is None else {pull.pull: pull.notes for pull in state.edition.pulls}
        pulls = dict.fromkeys([*state.pulls, *written])
        rows = []
        for pull in pulls:
            known = {name: cell for name, cell in notes.get(pull, {}).items() if name in NARROW}
            cells = known | written.get(pull, {}) | {"pull": pull}
            rows.append({"id": pull, "name": f"pull {pull}", "cells": cells})
        self.table.rows = rows

    def _write(self, pull: str, column: str, value: str) -> None:
        folder = self._store.state.folder
        if folder is None:
            return
        check_unchanged(folder / LOG_FILE, self._mark)
        enter(folder, {"pull": pull, column: value})
        self._read(folder)
        self._store.run(say, f"Pull {pull}: {column} was written to {LOG_FILE}.")

    def _choose(self, pull: str, _column: str, _value: str) -> None:
        self._store.run(choose, pull=pull)

    def _add(self) -> None:
        folder, pull = self._store.state.folder, self.pull.value.strip()
        if folder is None:
            return
        try:
            if not pull:
                raise FolderError("The new pull has no number. Write the next one in order of printing.")
            check_unchanged(folder / LOG_FILE, self._mark)
            enter(folder, {"pull": pull})
        except ProofkitError as error:
            self._refused(str(error))
            return
        self.pull.value = ""
        self._read(folder)

    def _refused(self, why: str) -> None:
        """Say what was wrong and put the cells back to what the file says."""
        self._store.run(say, why)
        rows = self.table.rows
        self.table.rows = []
        self.table.rows = rows


def _columns() -> list[dict[str, object]]:
    """Return the columns, those written most first."""
    known = {column.name: column for column in PULL_LOG}
    order = [*(name for name in NARROW if name in known), *(name for name in known if name not in NARROW)]
    return [
        {
            "key": name,
            "title": name.replace("_", " "),
            "kind": "head" if name == "pull" else "text",
            "goes": name == "pull",
            "writable": name != "pull",
            "note": known[name].meaning,
        }
        for name in order
    ]
