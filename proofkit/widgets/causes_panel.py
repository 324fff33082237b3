"""Causes for and against: what was seen on the sheet, in words, beside the place on it and on the standard."""

import html
from threading import Lock, Thread

import ipywidgets as widgets

from proofkit.arrays import Picture
from proofkit.check import CheckResult
from proofkit.edition import PlatePictures
from proofkit.errors import ProofkitError
from proofkit.looking import laid_sight, look
from proofkit.report.cards import cards
from proofkit.report.templates import card_fragment
from proofkit.widgets.controls import words
from proofkit.widgets.state import BenchState, changed
from proofkit.widgets.store import BenchStore
from proofkit.widgets.work import Places

NOTHING_YET = "Nothing was measured yet. Check the edition, or look at the sheets first."


class CausesPanel(widgets.VBox):  # type: ignore[misc]  # ipywidgets has no types
    """The card of the sheet under the eye."""

    def __init__(self, store: BenchStore, places: Places) -> None:
        self._places = places
        self._lock = Lock()
        self._state = store.state
        self.card = widgets.HTML(words(NOTHING_YET, "aside"))
        super().__init__([self.card])
        store.observe(lambda change: self._show(change["old"], change["new"]), "state")

    def _show(self, before: BenchState, state: BenchState) -> None:
        if changed(before, state, "result", "pull"):
            self._state = state
            Thread(target=self._draw, args=(state,), name="causes", daemon=True).start()

    def _draw(self, state: BenchState) -> None:
        """Show the card; its pictures can take seconds when a large sheet is seen for the first time."""
        with self._lock:
            if state is self._state:  # else another sheet was asked for meanwhile
                self.card.value = card_of(state, self._places)


def card_of(state: BenchState, places: Places) -> str:
    """Return the card of the sheet under the eye as HTML; all text is escaped."""
    result = state.result
    if result is None or not state.pull:
        return words(NOTHING_YET, "aside")
    measured = result.measured
    head = f"<h3>Pull {html.escape(state.pull)}</h3>"
    if state.pull == measured.standard:
        return head + words("This is the standard itself.", "aside")
    if state.pull not in measured.tone_pictures:
        return head + words(measured.failures.get(state.pull, "This sheet was not measured."), "notice")
    try:
        (card,) = cards(measured, result.judged, pictures_of(result, places), [state.pull])
    except ProofkitError as error:
        return head + words(str(error), "notice")
    return card_fragment(card, measured)


def pictures_of(result: CheckResult, places: Places) -> PlatePictures:
    """Return what gives parts of the laid sheets, read from their pyramids."""
    edition = result.measured.edition
    pulls = {pull.pull: pull for pull in edition.pulls}
    beside = places.beside_ledger(edition.folder)
    size = (result.measured.plate_width_mm, result.measured.plate_height_mm)

    def picture(pull: str, box_mm: tuple[float, float, float, float], px_per_mm: float) -> Picture:
        if pull not in result.sheets:
            return result.pictures(pull, box_mm, px_per_mm)
        return look(laid_sight(edition, pulls[pull], beside, result.sheets[pull], size), box_mm, px_per_mm)

    return picture
