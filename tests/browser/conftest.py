"""A browser, a JupyterLab, and a notebook that opens the bench on a folder."""

import shutil
from pathlib import Path

import nbformat
import pytest
from playwright.sync_api import expect

from tests.browser.bench_page import BenchPage
from tests.browsing import chromium, lab
from tests.check.conftest import drawn  # noqa: F401 (a fixture)

ARTEFACTS = Path(__file__).parent.parent.parent / ".artefacts"

expect.set_options(timeout=30_000)  # a kernel that shares its processors answers late

LABS_OWN = (
    "Could not restore the debugger state",
    # A restart soon after the page was loaded: one complaint for each widget whose channel was still being opened.
    "Error: Canceled future for create_subshell_request message before replies were done",
    "Canceled future for create_subshell_request message before replies were done",
)
"""What JupyterLab 4.6 itself complains of when a kernel restarts; the bench has no part in it."""


@pytest.fixture(scope="session")
def browser():
    with chromium() as opened:
        yield opened


@pytest.fixture
def opened(browser, tmp_path):
    """``opened(folder) -> BenchPage`` on the bench of a folder; whatever the page complains of fails the test."""
    complaints, outside = [], []
    root = tmp_path / "root"
    root.mkdir()
    with lab(root, tmp_path) as here:
        context = browser.new_context(viewport={"width": 1366, "height": 768})
        page = context.new_page()
        page.set_default_timeout(120_000)
        page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("request", lambda request: outside.append(request.url))

        def show(folder: Path, *, settled: bool = True) -> BenchPage:
            lines = f"from proofkit.widgets import bench\n\npanel = bench({str(folder)!r})\npanel"
            book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(lines)])
            book.metadata["kernelspec"] = {
                "name": "python3",
                "display_name": "Python 3",
                "language": "python",
            }
            nbformat.write(book, root / "bench.ipynb")
            here.open(page, "bench.ipynb")
            assert here.run_all(page) == []
            bench = BenchPage(page, here)
            if settled:
                bench.settle()
            return bench

        yield show
        ARTEFACTS.mkdir(exist_ok=True)
        page.screenshot(path=ARTEFACTS / f"{tmp_path.name}.png")
        faults = here.kernel_faults(page)
        context.close()
    assert faults == []
    own = (here.address, here.address.replace("http", "ws"), "data:", "blob:")
    assert [url for url in outside if not url.startswith(own)] == []
    assert [said for said in complaints if not said.startswith(LABS_OWN)] == []


@pytest.fixture
def trial(drawn, tmp_path):  # noqa: F811 (the fixture imported above)
    """A copy of the small simulated edition."""
    return shutil.copytree(drawn, tmp_path / "trial", copy_function=shutil.copyfile)
