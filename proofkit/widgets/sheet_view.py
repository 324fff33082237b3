"""The sheet under the eye: a canvas in the page, and answers to what it asks."""

import math
from collections.abc import Callable
from pathlib import Path
from threading import RLock
from typing import Any, Literal

import anywidget
import traitlets

from proofkit.errors import ProofkitError
from proofkit.figures.look import FALLS_TO_RISES
from proofkit.looking import Sight, density_difference, look, read_point
from proofkit.looking.screen import difference_codes, screen_codes, small_jpeg

Mode = Literal["one", "beside", "swipe", "blink", "difference"]

MOST_BYTES = 96_000
"""Largest answer to one question, pictures of both sheets together. [byte]"""

SHOWN_DENSITY = 0.3
"""Difference at which the colours end: half of it is a strong change of tone in print (common practice). [D]"""

MARGIN_MM = 6.0
"""Paper shown around the plate. [mm]"""

Box = tuple[float, float, float, float]


class SheetView(anywidget.AnyWidget):
    """Shows one sheet, alone or against the standard, and reports what is drawn on it."""

    _esm = Path(__file__).with_name("sheet_view.js")
    _css = Path(__file__).with_name("sheet_view.css")
    world = traitlets.Dict({"box": [0.0, 0.0, 100.0, 70.0], "plate": None}).tag(sync=True)
    names = traitlets.List(["", ""]).tag(sync=True)
    serial = traitlets.Int(0).tag(sync=True)
    """Counts changes of what is shown, so that a late answer is told apart."""
    mode = traitlets.Unicode("one").tag(sync=True)
    tool = traitlets.Unicode("move").tag(sync=True)
    mix = traitlets.Float(0.5).tag(sync=True)
    grid = traitlets.Bool(default_value=False).tag(sync=True)
    show_regions = traitlets.Bool(default_value=True).tag(sync=True)
    regions: traitlets.List[Any] = traitlets.List().tag(sync=True)
    chosen = traitlets.Unicode("").tag(sync=True)
    mark: traitlets.List[Any] = traitlets.List().tag(sync=True)
    """Box of the place that was gone to, empty for none. [mm]"""
    cut: traitlets.List[Any] = traitlets.List().tag(sync=True)
    """x0, y0, x1, y1 of the cut, empty for none. [mm]"""
    view: traitlets.List[Any] = traitlets.List().tag(sync=True)
    """Centre x, y [mm] and scale [px/mm] last seen, to come back to after the page was closed."""
    go = traitlets.Dict().tag(sync=True)
    said = traitlets.Unicode("").tag(sync=True)
    trouble = traitlets.Unicode("").tag(sync=True)
    """Why there is no sheet to be seen; empty when there is one."""
    scan_px_per_mm = traitlets.Float(24.0).tag(sync=True)
    scale = traitlets.Dict().tag(sync=True)

    def __init__(self) -> None:
        super().__init__(scale={"shown": SHOWN_DENSITY, "colours": [list(stop) for stop in FALLS_TO_RISES]})
        self._lock = RLock()
        self._sheets: tuple[Sight | None, Sight | None] = (None, None)
        self._answers: dict[str, Callable[[dict[str, Any]], None]] = {}
        self.on_msg(self._take)

    def when(self, kind: str, answer: Callable[[dict[str, Any]], None]) -> None:
        """Call `answer` with messages of a kind: `drawn`, `shift` or `key`."""
        self._answers[kind] = answer

    def show(self, sheet: Sight, standard: Sight | None) -> None:
        """Show a sheet, and the standard to compare it with when both lie in the same millimetres."""
        with self._lock:
            self._sheets = (sheet, standard)
            serial = self.serial + 1
        margin = MARGIN_MM if sheet.kind != "scan" else 0.0
        box = [-margin, -margin, sheet.width_mm + margin, sheet.height_mm + margin]
        plate = [sheet.width_mm, sheet.height_mm] if sheet.kind != "scan" else None
        names = [f"pull {sheet.pull}", "" if standard is None else f"standard, pull {standard.pull}"]
        with self.hold_sync():
            self.scan_px_per_mm = sheet.scan_px_per_mm
            self.names = names
            self.serial = serial
            self.mark = []
            self.trouble = ""
            self.world = {"box": box, "plate": plate}

    def fault(self, name: str, text: str) -> None:
        """Show no sheet but the sentence that says why."""
        with self._lock:
            self._sheets = (None, None)
            serial = self.serial + 1
        with self.hold_sync():
            self.names = [name, ""]
            self.mark = []
            self.trouble = text
            self.serial = serial

    def go_to(self, box_mm: Box) -> None:
        """Bring a place into view and mark it."""
        x0, y0, x1, y1 = box_mm
        room = 0.25 * max(x1 - x0, y1 - y0)
        with self.hold_sync():
            self.mark = list(box_mm)
            self.go = {
                "box": [x0 - room, y0 - room, x1 + room, y1 + room],
                "number": self.go.get("number", 0) + 1,
            }

    def _take(self, _widget: object, message: dict[str, Any], _buffers: object) -> None:
        kind = str(message.get("type"))
        try:
            if kind == "look":
                self._look(message)
            elif kind == "read":
                self._read(message)
            elif kind in self._answers:
                self._answers[kind](message)
        except ProofkitError as error:
            self.send({"type": "fault", "viewer": message.get("viewer"), "text": str(error)})

    def _look(self, message: dict[str, Any]) -> None:
        with self._lock:
            (sheet, standard), serial = self._sheets, self.serial
        if sheet is None:
            return
        mode = str(message["mode"]) if standard is not None else "one"
        x0, y0, x1, y1 = (float(edge) for edge in message["box"])
        # No finer than the scan: the page enlarges what it has.
        px_per_mm = min(float(message["px_per_mm"]), sheet.scan_px_per_mm)
        slots, files = pictures(sheet, standard, mode, (x0, y0, x1, y1), px_per_mm)
        answer = {key: message.get(key) for key in ("viewer", "question", "mode", "box", "base")}
        self.send({"type": "picture", "serial": serial, "slots": slots, **answer}, files)

    def _read(self, message: dict[str, Any]) -> None:
        with self._lock:
            sheet, standard = self._sheets
        if sheet is None:
            return
        x, y, side = (float(message[key]) for key in ("x", "y", "side"))
        text = point_words(sheet, standard, x, y, side)
        self.send({"type": "reading", "viewer": message.get("viewer"), "text": text})


def pictures(
    sheet: Sight, standard: Sight | None, mode: str, box_mm: Box, px_per_mm: float
) -> tuple[list[str], list[bytes]]:
    """Return the pictures of a view as JPEG files, and their slots: sheet `a`, standard `b`, difference `d`."""
    if standard is None or mode == "one":
        return ["a"], [small_jpeg(screen_codes(look(sheet, box_mm, px_per_mm)), MOST_BYTES)]
    both = [look(one, box_mm, px_per_mm) for one in (sheet, standard)]
    if mode == "difference":
        codes = difference_codes(density_difference(*both), SHOWN_DENSITY, FALLS_TO_RISES)
        return ["d"], [small_jpeg(codes, MOST_BYTES)]
    return ["a", "b"], [small_jpeg(screen_codes(one), MOST_BYTES // 2) for one in both]


def point_words(sheet: Sight, standard: Sight | None, x_mm: float, y_mm: float, side_mm: float) -> str:
    """Return what is read at a point, as it stands under the sheet."""
    white = "" if sheet.paper is not None else " (against the scanner's white)"
    words = [f"x {_signed(x_mm, 2)} mm, y {_signed(y_mm, 2)} mm"]
    here = read_point(sheet, x_mm, y_mm, side_mm)
    if math.isnan(here.density):
        return f"{words[0]} · outside the scan"
    words.append(f"D {_signed(here.density, 3)}, L* {here.lightness:.1f}{white}")
    if standard is not None:
        there = read_point(standard, x_mm, y_mm, side_mm)
        if not math.isnan(there.density):
            words.append(f"standard D {_signed(there.density, 3)}, L* {there.lightness:.1f}")
    return " · ".join(words)


def _signed(value: float, digits: int) -> str:
    return f"{value:.{digits}f}".replace("-", "−")
