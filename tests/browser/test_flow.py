"""From the pile to a decision: measure, look, compare, decide, and find it all again after a restart."""

import re
from contextlib import suppress

import pytest
from playwright.sync_api import expect

from proofkit.ledger.deciding import read_decisions
from tests.browsing import HAS_KERNEL, has_chromium

pytestmark = [
    pytest.mark.browser,
    pytest.mark.slow,
    pytest.mark.skipif(not has_chromium(), reason="no Chromium on this machine"),
]

POINT = """([chart, place]) => {
  const {xaxis, yaxis, _size} = chart._fullLayout, box = chart.getBoundingClientRect();
  const trace = chart._fullData.find(one => one.mode === 'markers' && one.x.length > 3);
  return [box.left + _size.l + xaxis.c2p(trace.x[place]), box.top + _size.t + yaxis.c2p(trace.y[place])];
}"""
"""Where a point of the first panel lies on the screen."""


def test_the_whole_way(opened, trial):
    bench = opened(trial)
    expect(bench.card("3")).to_have_attribute("aria-selected", "true")
    measures(bench, trial)
    goes_through_the_table(bench)
    clicks_a_point(bench)
    goes_through_points_by_keys(bench)
    compares(bench)
    cuts(bench)
    decides(bench, trial)
    comes_back(bench)


def measures(bench, trial):
    bench.button("Check the edition").click()
    expect(bench.root.locator(".summary")).to_contain_text("laid beside pull 3", timeout=300_000)
    assert (trial / "results" / "report.html").is_file()


def goes_through_the_table(bench):
    table = bench.root.get_by_role("table").first
    expect(table.get_by_role("rowheader")).to_have_count(5)
    table.get_by_role("button", name="Verdict").click()
    expect(table.get_by_role("columnheader", name="Verdict")).to_have_attribute("aria-sort", "ascending")
    table.get_by_role("button", name="contours of pull 2").click()
    expect(bench.card("2")).to_have_attribute("aria-selected", "true")
    bench.settle()


def clicks_where_it_hovers(page, chart, words):
    """Click the fourth point. The chart moves while panels above it fill, so it is gone to until its words show."""
    for _ in range(30):
        x, y = chart.evaluate(f"chart => ({POINT})([chart, 3])")
        page.mouse.move(x - 40, y)
        page.mouse.move(x, y)
        with suppress(AssertionError):
            expect(chart.locator(".hoverlayer")).to_contain_text(words, timeout=1000)
            page.mouse.click(x, y)
            return
    raise AssertionError(f"no point of the chart says {words!r}")


def clicks_a_point(bench):
    page = bench.page
    bench.tab("Consistency")
    chart = bench.root.locator(".proofkit-charts .js-plotly-plot").first
    heard = "part => part.classList.contains('pk-chart') && part.querySelector('.main-svg')"
    page.wait_for_function(heard, arg=chart.element_handle())
    bench.settle()  # a chart that is drawn again between hovering and clicking takes no click
    chart.scroll_into_view_if_needed()
    clicks_where_it_hovers(page, chart, "pull 4")
    expect(bench.card("4")).to_have_attribute("aria-selected", "true")
    bench.settle()


def goes_through_points_by_keys(bench):
    """Every point has its words and leads to its sheet without a mouse; the keys are not JupyterLab's."""
    keys, said = bench.page.keyboard, bench.root.locator(".proofkit-charts").first.get_by_role("status")
    line, map_ = (bench.root.locator(".proofkit-charts .pk-chart").nth(place) for place in (0, 1))
    expect(said).to_have_attribute("data-current", "4")
    line.focus()
    keys.press("Home")
    expect(said).to_contain_text("pull 4")  # keys begin at the sheet under the eye
    keys.press("Home")
    expect(said).to_contain_text("pull 1: ")
    keys.press("ArrowRight")
    expect(said).to_contain_text("pull 2: ")
    first_row = said.inner_text().split(":")[0]
    keys.press("ArrowDown")
    expect(said).not_to_contain_text(first_row)
    expect(said).to_contain_text("pull 2: ")
    keys.press("Enter")
    expect(bench.card("2")).to_have_attribute("aria-selected", "true")
    expect(line).to_be_focused()
    for key in ("d", "d", "b"):
        keys.press(key)
    assert bench.page.evaluate("jupyterapp.shell.currentWidget.content.model.cells.length") == 1
    expect(map_).to_have_accessible_name(
        re.compile("^Where the pulls leave the standard.*Enter opens the sheet")
    )
    map_.focus()
    for key in ("End", "End", "ArrowLeft"):
        keys.press(key)
    expect(said).to_contain_text("pull 4, ")
    keys.press("Enter")
    expect(bench.card("4")).to_have_attribute("aria-selected", "true")
    bench.settle()


def compares(bench):
    bench.press("Swipe")
    bench.settle()
    slide = bench.root.get_by_label("Where the swipe parts the two sheets")
    before = bench.grey()
    slide.fill("0.2")
    bench.page.wait_for_function("part => Number(part.value) === 0.2", arg=slide.element_handle())
    after, width = bench.grey(), before.shape[1]
    parted = slice(int(0.25 * width), int(0.45 * width))
    assert (before[40:-60, parted] != after[40:-60, parted]).any()  # the standard shows there now
    for mode in ("Beside", "Blink", "Difference"):
        bench.press(mode)
        bench.settle()
        assert int(bench.sheet.get_attribute("data-bytes")) <= 100_000
    bench.button("Next place that differs").click()
    expect(bench.sheet.get_by_role("status")).to_contain_text("Place 1 of")
    bench.settle()


def cuts(bench):
    bench.press("Cut")
    box = bench.box()
    bench.drag((0.3 * box["width"], 0.5 * box["height"]), (0.6 * box["width"], 0.5 * box["height"]))
    bench.tab("Cut")
    expect(bench.root.get_by_text("along the cut, mm").first).to_be_visible()
    chart = bench.root.locator(".proofkit-charts .pk-chart").last
    chart.focus()
    for key in ("End", "End"):
        chart.press(key)
    said = bench.root.locator(".proofkit-charts").last.get_by_role("status")
    expect(said).to_contain_text(re.compile(r"^pull 4: \d+\.\d{3} mm: −?\d\.\d{3} D$"))


def decides(bench, trial):
    bench.tab("Decision")
    bench.beside("Initials").fill("A.L.")
    bench.beside("Initials").press("Enter")
    bench.beside("Decision").select_option("spoiled")
    bench.button("Write it down").click()
    expect(bench.card("4")).to_contain_text("spoiled, A.L.")
    bench.button("Take it back").click()
    expect(bench.notice).to_contain_text("nothing is decided about it now")
    expect(bench.card("4")).not_to_contain_text("A.L.")
    bench.beside("Decision").select_option("second")
    bench.beside("Reason").fill("a breath too light")
    bench.beside("Reason").press("Enter")
    bench.button("Write it down").click()
    expect(bench.root.locator(".entries")).to_contain_text("a breath too light")
    table = read_decisions(trial)
    assert table["decision"].tolist() == ["spoiled", "taken back", "second"]
    assert set(table["pull"]) == {"4"}


def comes_back(bench):
    """After the page was loaded anew the kernel goes on; after a new kernel the ledger has all that was decided."""
    page = bench.page
    page.evaluate("jupyterapp.commands.execute('docmanager:save')")  # as JupyterLab does every two minutes
    page.reload()
    page.wait_for_function(HAS_KERNEL)
    expect(bench.card("4")).to_have_attribute("aria-selected", "true", timeout=60_000)
    expect(bench.card("4")).to_contain_text("second, A.L.")
    page.evaluate("jupyterapp.shell.currentWidget.context.sessionContext.session.kernel.restart()")
    assert bench.lab.run_all(page) == []
    expect(bench.card("4")).to_contain_text("second, A.L.", timeout=60_000)
    bench.button("Check the edition").click()
    expect(bench.notice).to_contain_text("0 of them measured just now", timeout=300_000)


def test_a_sheet_whose_kernel_ended_says_so(opened, trial):
    bench = opened(trial)
    bench.page.evaluate("jupyterapp.shell.currentWidget.context.sessionContext.session.kernel.restart()")
    bench.root.get_by_role("button", name="Zoom in").click()
    expect(bench.root.locator(".pk-said")).to_contain_text("Run the cell again")
    bench.root.get_by_role("button", name="Zoom in").click()


def test_a_check_that_was_stopped_or_lost_its_kernel_goes_on(opened, trial):
    bench = opened(trial)
    bench.button("Check the edition").click()
    stop = bench.root.get_by_role("button", name="Stop", exact=True)
    stop.click()
    expect(bench.notice).to_contain_text("Stopped", timeout=300_000)
    bench.button("Check the edition").click()
    expect(bench.root.get_by_role("progressbar")).to_have_attribute(
        "value", re.compile("^[2-4]$"), timeout=300_000
    )
    bench.page.evaluate("jupyterapp.shell.currentWidget.context.sessionContext.session.kernel.restart()")
    assert bench.lab.run_all(bench.page) == []
    bench.button("Check the edition").click()
    expect(bench.notice).to_contain_text(
        re.compile("5 sheets compared, [0-3] of them measured just now"), timeout=300_000
    )


@pytest.mark.parametrize("theme", ["JupyterLab Light", "JupyterLab Dark"])
@pytest.mark.parametrize("size", [(1366, 768), (2560, 1440)])
def test_the_sheet_is_the_largest_thing(opened, trial, size, theme):
    bench = opened(trial)
    bench.page.set_viewport_size({"width": size[0], "height": size[1]})
    bench.page.evaluate("name => jupyterapp.commands.execute('apputils:change-theme', {theme: name})", theme)
    bench.root.evaluate("part => part.scrollIntoView()")
    bench.settle()
    areas = {
        name: (part := bench.root.locator(name).first.bounding_box())["width"] * part["height"]
        for name in (".pk-stage", ".pk-drawer", ".proofkit-beside")
    }
    assert areas[".pk-stage"] > areas[".pk-drawer"] + areas[".proofkit-beside"]
    stage = bench.root.locator(".pk-stage").bounding_box()
    assert stage["y"] + stage["height"] <= size[1]  # seen whole without scrolling
    assert bench.root.evaluate("part => part.scrollWidth <= part.clientWidth + 1")


def test_everything_that_can_be_used_has_a_name(opened, trial):
    bench = opened(trial)
    nameless = bench.root.evaluate(
        """root => [...root.querySelectorAll(`button, input, select, canvas, [tabindex="0"], [role=listbox],
          [role=option]`)]
        .filter(part => part.offsetParent && !(part.getAttribute('aria-label') || part.textContent.trim()
          || part.labels?.length || part.title || part.closest('.widget-inline-hbox')?.querySelector('label')))
        .map(part => part.outerHTML.slice(0, 120))"""
    )
    assert nameless == []
