"""The bench on a page: everything is found by what people see or hear, and waited for by what changes."""

import io
from collections.abc import Callable

import numpy as np
from PIL import Image
from playwright.sync_api import Locator, Page, expect

from tests.browsing import Lab


class BenchPage:
    def __init__(self, page: Page, lab: Lab) -> None:
        self.page, self.lab = page, lab
        self.root = page.locator(".proofkit-bench").last
        self.sheet = self.root.locator(".pk-sheet")
        self.canvas = self.sheet.locator("canvas")
        self.notice = self.root.locator(".proofkit-said .notice")

    def settle(self) -> None:
        """Wait until the picture that was asked for last is painted."""
        self.page.wait_for_function(
            """() => {
              const part = [...document.querySelectorAll('.pk-sheet')].at(-1);
              return part?.dataset.settled && part.dataset.settled === part.dataset.asked;
            }"""
        )

    def button(self, name: str) -> Locator:
        return self.root.get_by_role("button", name=name, exact=True)

    def press(self, name: str) -> None:
        """Press a button that stays down."""
        self.button(name).click()
        expect(self.button(name)).to_have_attribute("aria-pressed", "true")

    def beside(self, label: str) -> Locator:
        """A control of the panels beside the sheet."""
        return self.root.locator(".proofkit-beside").get_by_label(label, exact=True)

    def tab(self, name: str) -> None:
        self.root.get_by_role("tab", name=name, exact=True).click()

    def card(self, pull: str) -> Locator:
        drawer = self.root.get_by_role("listbox", name="Proof drawer: sheets in order of printing")
        return drawer.locator(f'[data-pull="{pull}"]')

    def box(self) -> dict[str, float]:
        self.canvas.scroll_into_view_if_needed()
        return self.canvas.bounding_box()

    def drag(self, *points: tuple[float, float]) -> None:
        """Drag along points of the canvas. [CSS px]"""
        box, mouse = self.box(), self.page.mouse
        mouse.move(box["x"] + points[0][0], box["y"] + points[0][1])
        mouse.down()
        for x, y in points[1:]:
            mouse.move(box["x"] + x, box["y"] + y, steps=4)
        mouse.up()

    def click(self, x: float, y: float) -> None:
        box = self.box()
        self.page.mouse.click(box["x"] + x, box["y"] + y)

    def grey(self) -> np.ndarray:
        """What the canvas shows, as grey codes; one value per CSS px."""
        self.box()
        return np.asarray(Image.open(io.BytesIO(self.canvas.screenshot())).convert("L"))

    def until(self, condition: Callable[[], bool]) -> None:
        """Wait for something on disk that follows what was done on the page."""
        for _ in range(600):
            if condition():
                return
            self.page.wait_for_timeout(50)
        raise AssertionError("it never came")
