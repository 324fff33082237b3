"""The sheet under the eye: which sheet, in which millimetres, at which place; what is drawn goes to the store."""

from pathlib import Path
from threading import Lock, Thread
from typing import Any

import ipywidgets as widgets
import pandas as pd

from proofkit.errors import ProofkitError
from proofkit.folder.edition import Edition, Pull, Region
from proofkit.looking import Sight, laid_sight, marked_sight, plain_sight
from proofkit.report.places import worst_places
from proofkit.report.sentences import place_sentence
from proofkit.widgets.region_steps import add_region, choose_region, redo, remove_region, shift_region, undo
from proofkit.widgets.sheet_view import SheetView
from proofkit.widgets.state import BenchState, Box, say, standard_pull
from proofkit.widgets.store import BenchStore
from proofkit.widgets.work import Places

MOST_PLACES = 12
"""Places that can be gone through on one sheet."""

LEAST_BOX_MM = 6.0
"""A single place is shown in a square of at least this side. [mm]"""

NO_PLATE = (
    "This sheet is shown in millimetres of the scan, since it was not laid on the standard yet. "
    "Draw regions on the standard, or check the edition first."
)


class SheetPanel(widgets.Box):  # type: ignore[misc]  # ipywidgets has no types
    """Holds the canvas and keeps it to the state."""

    def __init__(self, store: BenchStore, places: Places) -> None:
        self.view = SheetView()
        self._store = store
        self._places = places
        self._lock = Lock()
        self._wanted: tuple[object, ...] = ()
        self._standards: dict[tuple[object, ...], Sight] = {}
        self._differing: list[tuple[Box, str]] = []
        self._at = -1
        self.sheet: Sight | None = None
        self.standard: Sight | None = None
        super().__init__([self.view])
        self.add_class("proofkit-sheet-place")
        self.view.when("drawn", self._drawn)
        self.view.when("shift", self._shifted)
        self.view.when("key", self._key)
        self.view.observe(lambda change: store.run(choose_region, change["new"]), "chosen")
        store.observe(lambda change: self._show(change["old"], change["new"]), "state")

    @property
    def plate_mm(self) -> tuple[float, float]:
        """Width and height of the plate that regions are drawn on. [mm]

        Raises
        ------
        ProofkitError
            When the sheet on view has no plate millimetres.
        """
        if self.sheet is None or self.sheet.kind == "scan":
            raise ProofkitError(NO_PLATE)
        return self.sheet.width_mm, self.sheet.height_mm

    def _show(self, before: BenchState, state: BenchState) -> None:
        if before.regions is not state.regions:
            self.view.regions = [region_message(region) for region in state.regions]
        if self.view.chosen != state.chosen:
            self.view.chosen = state.chosen
        wanted = (state.edition, state.pull, standard_pull(state), state.result)
        if _is_another(wanted, self._wanted):
            self._wanted = wanted
            Thread(target=self._open, args=(state, wanted), name="sheet", daemon=True).start()
        elif state.target is not None and state.target is not before.target:
            self.view.go_to(state.target)

    def _open(self, state: BenchState, wanted: tuple[object, ...]) -> None:
        """Bring a sheet on view; making its pyramid can take seconds the first time."""
        if state.edition is None or not state.pull:
            return
        with self._lock:
            if _is_another(wanted, self._wanted):
                return  # another sheet was asked for meanwhile
            self.view.said = f"Opening pull {state.pull} …"
            try:
                sheet, standard = self._sights(state, state.edition)
            except ProofkitError as error:
                self.view.said = str(error)
                self.view.fault(f"pull {state.pull}", str(error))
                return
            self.sheet, self.standard = sheet, standard
            self._differing, self._at = _differing(state), -1
            self.view.show(sheet, standard)
            self.view.said = "" if sheet.kind != "scan" else NO_PLATE
            if state.target is not None:
                self.view.go_to(state.target)

    def _sights(self, state: BenchState, edition: Edition) -> tuple[Sight, Sight | None]:
        pulls = {pull.pull: pull for pull in edition.pulls}
        beside = self._places.beside_ledger(edition.folder)
        name, result = standard_pull(state), state.result
        if result is not None and state.pull in result.sheets:
            measured = result.measured
            size = (measured.plate_width_mm, measured.plate_height_mm)
            sheet = laid_sight(edition, pulls[state.pull], beside, result.sheets[state.pull], size)
            if state.pull == name or name not in result.sheets:
                return sheet, None
            return sheet, laid_sight(edition, pulls[name], beside, result.sheets[name], size)
        if result is None and state.pull == name:
            return self._marked(edition, pulls[name], beside), None
        return plain_sight(edition, pulls[state.pull], beside), None

    def _marked(self, edition: Edition, pull: Pull, beside: Path) -> Sight:
        """Return the standard by its plate mark, looked for once."""
        key = (edition.folder, pull.pull, edition.plate_width_mm, edition.plate_height_mm)
        if key not in self._standards:
            self._standards[key] = marked_sight(edition, pull, beside)
        return self._standards[key]

    def _drawn(self, message: dict[str, Any]) -> None:
        points = [(float(x), float(y)) for x, y in message["points"]]
        if message["kind"] == "rectangle":
            (x0, y0), (x1, y1) = points
            points = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        try:
            plate_mm = self.plate_mm
        except ProofkitError as error:
            self._store.run(say, str(error))
            return
        self._store.run(add_region, points, "lines", plate_mm)

    def _shifted(self, message: dict[str, Any]) -> None:
        x, y = (float(part) for part in message["by"])
        try:
            plate_mm = self.plate_mm
        except ProofkitError as error:
            self._store.run(say, str(error))
            return
        self._store.run(shift_region, str(message["region"]), (round(x, 3), round(y, 3)), plate_mm)

    def _key(self, message: dict[str, Any]) -> None:
        name = message["name"]
        if name in {"next", "previous"}:
            self._go_on(1 if name == "next" else -1)
        elif name == "remove" and self._store.state.chosen:
            self._store.run(remove_region, self._store.state.chosen)
        elif name in {"undo", "redo"}:
            self._store.run(undo if name == "undo" else redo)

    def _go_on(self, by: int) -> None:
        if not self._differing:
            self.view.said = "No place was found in which this sheet differs from the standard."
            return
        self._at = (
            (self._at + by) % len(self._differing) if self._at >= 0 or by > 0 else len(self._differing) - 1
        )
        box_mm, words = self._differing[self._at]
        self.view.go_to(box_mm)
        self.view.said = f"Place {self._at + 1} of {len(self._differing)}: {words}"


def _is_another(wanted: tuple[object, ...], before: tuple[object, ...]) -> bool:
    """Return whether another sheet is wanted; of an edition that was read again all scans may have changed."""
    return len(wanted) != len(before) or any(
        one is not other and not (isinstance(one, str) and one == other)
        for one, other in zip(wanted, before, strict=True)
    )


def _differing(state: BenchState) -> list[tuple[Box, str]]:
    """Return the places in which the sheet leaves the standard, with words: single ones first, then whole parts."""
    result = state.result
    if result is None or state.pull == result.measured.standard:
        return []
    pictures = result.measured.tone_pictures
    standard, tone = pictures.get(result.measured.standard), pictures.get(state.pull)
    broad = [] if standard is None or tone is None else worst_places(standard, tone, (), MOST_PLACES)
    return [
        *_small_places(result.places, state.pull),
        *((place.box_mm, place_sentence(place)) for place in broad),
    ]


def _small_places(table: pd.DataFrame, pull: str) -> list[tuple[Box, str]]:
    """Return specks, slits and missing strokes of a sheet, the strongest first, each with a box around it."""
    found = table.loc[table["pull"] == pull].sort_values("spreads", key=abs, ascending=False)
    places = []
    for row in found.head(MOST_PLACES).to_dict("records"):
        x, y, length = (float(row[name]) for name in ("x_mm", "y_mm", "length_mm"))
        half = max(length, LEAST_BOX_MM) / 2
        where = f" in {row['regions']}" if row["regions"] else ""
        words = f"{str(row['kind']).capitalize()} of {length:.1f} mm{where}, at x {x:.1f} mm, y {y:.1f} mm."
        places.append(((x - half, y - half, x + half, y + half), words))
    return places


def region_message(region: Region) -> dict[str, object]:
    """Return a region as the page draws it."""
    outline = region.outline_mm
    rings = [outline.exterior, *outline.interiors]
    return {
        "name": region.name,
        "work": region.work,
        "proposed": region.proposed,
        "rings": [[[float(x), float(y)] for x, y in ring.coords[:-1]] for ring in rings],
    }
