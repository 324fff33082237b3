"""What only a browser shows: the page works without a network, and fits the screen and the sheet of paper."""

import pytest

from tests.browsing import chromium, has_chromium

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(not has_chromium(), reason="no Chromium on this machine"),
]


def until(page, expression):
    """Wait for a condition; the page's own policy forbids the usual way, which evaluates text inside the page."""
    for _ in range(200):
        if page.evaluate(expression):
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"never true: {expression}")


@pytest.fixture(scope="module")
def browser():
    with chromium() as opened:
        yield opened


@pytest.fixture
def page(browser, report):
    """The page with the network cut; anything asked for and anything complained about fails the test."""
    context = browser.new_context(viewport={"width": 1366, "height": 768}, offline=True)
    opened = context.new_page()
    asked, complaints = [], []
    opened.on("request", lambda request: asked.append(request.url))
    opened.on("console", lambda message: complaints.append(message.text))
    opened.on("pageerror", lambda error: complaints.append(str(error)))
    opened.on("dialog", lambda dialog: (complaints.append(dialog.message), dialog.dismiss()))
    opened.goto(report.as_uri())
    until(
        opened,
        "[...document.querySelectorAll('.chart')].filter(c => !c.closest('details:not([open])'))"
        ".every(c => c.querySelector('.main-svg'))",
    )
    yield opened
    context.close()
    assert [url for url in asked if not url.startswith(("file:", "data:", "blob:"))] == []
    assert complaints == []


def test_open_charts_are_drawn_and_closed_ones_wait(page):
    drawn = page.locator(".chart[data-drawn]").count()
    assert 0 < drawn < page.locator(".chart").count()
    page.locator("details.measure:not([open]) > summary").first.click()
    until(page, f"document.querySelectorAll('.chart .main-svg').length > 0 && "
                           f"document.querySelectorAll('.chart[data-drawn]').length === {drawn + 1}")  # fmt: skip


def test_a_measure_can_be_chosen_by_its_name(page):
    chooser = page.get_by_label("Go to measure")
    name = chooser.locator("option").last.get_attribute("value")
    chooser.select_option(name)
    until(page, f"document.getElementById('{name}').open")
    assert page.locator(f"#{name}").evaluate(
        "part => Math.abs(part.getBoundingClientRect().top) < innerHeight"
    )


def test_every_picture_is_there(page):
    assert page.evaluate(
        "[...document.images].every(i => { i.loading = 'eager'; return i.src.startsWith('data:'); })"
    )
    until(page, "[...document.images].every(i => i.complete && i.naturalWidth > 0)")


@pytest.mark.parametrize("width", [390, 1366, 2560])
def test_the_page_is_as_wide_as_the_window(page, width):
    page.set_viewport_size({"width": width, "height": 900})
    until(page, "document.documentElement.scrollWidth <= innerWidth")


def test_the_scale_bar_is_true(page):
    """A bar of 2 mm on a square of 12 mm takes a sixth of its width, measured on the screen."""
    square = page.locator(".views svg").first
    length = "part => part.getBBox().width * part.getScreenCTM().a"
    bar, shown = square.locator(".bar").evaluate(length), square.locator("image").evaluate(length)
    assert bar / shown == pytest.approx(2 / 12, rel=1e-3)


def test_charts_are_drawn_to_the_width_of_the_paper_and_back(page):
    widest = "Math.max(...[...document.querySelectorAll('.chart .main-svg')].map(s => s.width.baseVal.value))"
    before = page.evaluate(widest)
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    until(page, f"{widest} <= 700")
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    until(page, f"{widest} === {before}")


def test_it_prints(page, tmp_path):
    page.pdf(path=tmp_path / "report.pdf", format="A4", print_background=True)
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF")
