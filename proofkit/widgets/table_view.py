"""A table in the page: sorted by its heads, its cells chosen or written over."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from proofkit.errors import ProofkitError


class TableView(anywidget.AnyWidget):
    """Shows rows that are given as plain values, and reports what was chosen or written."""

    _esm = Path(__file__).with_name("table_view.js")
    caption = traitlets.Unicode("").tag(sync=True)
    nothing = traitlets.Unicode("Nothing to show.").tag(sync=True)
    columns: traitlets.List[Any] = traitlets.List().tag(sync=True)
    """Each with key, title, kind (`head`, `text`, `number`), and optionally note, goes, writable."""
    rows: traitlets.List[Any] = traitlets.List().tag(sync=True)
    """Each with id, name, cells, and optionally kind, marks (key -> word) and sort (key -> value to sort by)."""
    current = traitlets.Unicode("").tag(sync=True)
    """Row that is marked as the one under the eye."""

    def __init__(self, caption: str, nothing: str) -> None:
        super().__init__(caption=caption, nothing=nothing)
        self._answers: dict[str, Callable[[str, str, str], None]] = {}
        self.trouble: Callable[[str], None] = lambda _text: None
        """Is told what went wrong in an answer."""
        self.on_msg(self._take)

    def when(self, kind: str, answer: Callable[[str, str, str], None]) -> None:
        """Call ``answer(row, column, value)`` when a cell is `chosen` (value empty) or `written`."""
        self._answers[kind] = answer

    def _take(self, _widget: object, message: dict[str, Any], _buffers: object) -> None:
        answer = self._answers.get(str(message.get("type")))
        if answer is None:
            return
        try:
            answer(str(message["row"]), str(message["column"]), str(message.get("value") or ""))
        except ProofkitError as error:
            self.trouble(str(error))
