"""Make the pictures of README.md from a real run on the sample edition: ``python -m tests.pictures``.

The pictures go to sample_scans/pictures/. Tables, report and ledger go to a folder that is thrown away.
"""

import io
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, FloatRect, Page

from proofkit.check import check
from tests.browsing import chromium, lab

ROOT = Path(__file__).parent.parent
PICTURES = ROOT / "sample_scans" / "pictures"
NOTEBOOK = "1_check_an_edition.ipynb"
VIEW = {"width": 1366, "height": 860}
COLOURS = 128
"""Colours of a picture that would be too large with all of them."""

MOST_BYTES = 300_000


def main() -> None:
    """Run the sample edition and write all pictures."""
    with tempfile.TemporaryDirectory(prefix="proofkit_") as folder:
        make(Path(folder))


def make(home: Path) -> None:
    """Write all pictures, with tables, report and ledger in `home`/results; the notebook works on a copy there."""
    PICTURES.mkdir(exist_ok=True)
    sample = next((ROOT / "sample_scans").glob("mill*/edition.toml")).parent
    result = check(shutil.copytree(sample, home / "results" / sample.name))
    with chromium() as browser:
        show_report(browser, result.report)
        show_bench(browser, home)


def show_report(browser: Browser, report: Path) -> None:
    """Take the top of the report, its first flagged sheet and its first consistency chart."""
    with opened(browser) as page:
        page.goto(report.as_uri())
        page.locator(".chart .main-svg").first.wait_for()
        save("report_top", page.screenshot())
        save("flagged_sheet", page.screenshot(full_page=True, clip=down_to_views(page)))
        save("consistency", page.locator("details.measure[open]").first.screenshot())
        save("pile", page.locator("#pile .strip").screenshot())


def down_to_views(page: Page) -> FloatRect:
    """Return the part of the first card that ends below its pictures."""
    card = page.locator("article.card").first
    place = "part => { const r = part.getBoundingClientRect(); return [r.left, r.top + scrollY, r.width, r.height]; }"
    left, top, width, _ = card.evaluate(place)
    _, views_top, _, views_height = card.locator(".views").evaluate(place)
    return {"x": left - 14, "y": top, "width": width + 28, "height": views_top + views_height - top + 8}


def show_bench(browser: Browser, home: Path) -> None:
    """Take the bench of the first notebook after it was run: a flagged sheet, then beside the standard."""
    with lab(ROOT / "notebooks", home) as here, opened(browser) as page:
        here.open(page, NOTEBOOK)
        page.set_default_timeout(600_000)
        if errors := here.run_all(page):
            raise RuntimeError("; ".join(errors))
        bench = page.locator(".proofkit-bench")
        bench.evaluate("part => part.scrollIntoView()")
        settle(page)
        save("bench", page.screenshot())
        bench.get_by_role("button", name="Beside", exact=True).click()
        settle(page)
        before = page.evaluate("document.querySelector('.pk-sheet').dataset.asked")
        bench.get_by_role("button", name="Next place that differs").click()
        # The kernel says where that is, and only then the sheet asks for the picture.
        page.wait_for_function(
            "before => document.querySelector('.pk-sheet').dataset.asked !== before", arg=before
        )
        settle(page)
        save("bench_beside", bench.locator(".proofkit-middle").screenshot())


def settle(page: Page) -> None:
    """Wait until the sheet on view is painted as it was asked for last, and the card beside it is there."""
    page.locator(".proofkit-beside svg[role=img]").first.wait_for()
    page.wait_for_function(
        "() => { const part = document.querySelector('.pk-sheet'); "
        "return part.dataset.settled && part.dataset.settled === part.dataset.asked; }"
    )


@contextmanager
def opened(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(viewport=VIEW)
    try:
        yield context.new_page()
    finally:
        context.close()


def save(name: str, screenshot: bytes) -> None:
    """Write a picture, with fewer colours only if it would be too large for a repository."""
    picture = Image.open(io.BytesIO(screenshot)).convert("RGB")
    path = PICTURES / f"{name}.png"
    picture.save(path, optimize=True)
    if path.stat().st_size > MOST_BYTES:
        few = picture.quantize(COLOURS, Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE)
        few.save(path, optimize=True)
    if path.stat().st_size > MOST_BYTES:
        raise RuntimeError(
            f"{path.name} has {path.stat().st_size} bytes, allowed are {MOST_BYTES}. Show less in it."
        )


if __name__ == "__main__":
    main()
