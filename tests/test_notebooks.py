"""Every notebook runs from a clean kernel on the sample edition, and is stored without outputs."""

import tempfile
from pathlib import Path

import nbformat
import pytest
from jupyter_client import AsyncKernelManager
from nbclient import NotebookClient

from tests.browsing import chromium, has_chromium, lab

ROOT = Path(__file__).parent.parent
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
SAMPLES = sorted((ROOT / "sample_scans").glob("*/edition.toml"))
MOST_CELLS = 15

by_name = pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)


def test_there_are_notebooks_and_a_sample():
    assert NOTEBOOKS
    assert SAMPLES


@by_name
def test_stored_clean_and_short(path):
    book = nbformat.read(path, 4)
    assert len(book.cells) <= MOST_CELLS
    assert all(not cell.get("outputs") and cell.get("execution_count") is None for cell in book.cells)
    assert "widgets" not in book.metadata
    assert "assert " in [cell for cell in book.cells if cell.cell_type == "code"][-1].source


@pytest.mark.slow
@by_name
# The kernel's own manager leaves a socket to the garbage collector when its transport is a file.
@pytest.mark.filterwarnings("ignore:unclosed:ResourceWarning")
def test_runs_from_a_clean_kernel(path, tmp_path, monkeypatch):
    monkeypatch.setenv("PROOFKIT_RESULTS", str(tmp_path / "results"))
    before = listing()
    book = nbformat.read(path, 4)
    place = {"metadata": {"path": str(path.parent)}}
    with tempfile.TemporaryDirectory(prefix="kernel_") as short:  # its sockets' paths may have 107 characters
        file = str(Path(short) / "k.json")
        manager = AsyncKernelManager(kernel_name="python3", transport="ipc", connection_file=file)
        NotebookClient(book, km=manager, timeout=1800, store_widget_state=False, resources=place).execute()
    outputs = [output for cell in book.cells for output in cell.get("outputs", [])]
    assert [output for output in outputs if output.output_type == "error"] == []
    assert listing() == before


def listing() -> list[tuple[str, int]]:
    """Files of the samples and when they were changed: notebooks write elsewhere."""
    folders = [sample.parent for sample in SAMPLES]
    return sorted(
        (str(f), f.stat().st_mtime_ns) for folder in folders for f in folder.rglob("*") if f.is_file()
    )


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.skipif(not has_chromium(), reason="no Chromium on this machine")
@by_name
def test_runs_in_jupyterlab_without_a_complaint(path, tmp_path):
    complaints, outside = [], []
    with chromium() as browser, lab(path.parent, tmp_path) as here:
        page = browser.new_page(viewport={"width": 1366, "height": 900})
        page.on(
            "console", lambda message: complaints.append(message.text) if message.type == "error" else None
        )
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("request", lambda request: outside.append(request.url))
        here.open(page, path.name)
        page.set_default_timeout(600_000)
        assert here.run_all(page) == []
        page.locator(".proofkit-bench .pk-sheet[data-settled]").wait_for()
        assert here.kernel_faults(page) == []
        page.close()
    assert [
        url
        for url in outside
        if not url.startswith((here.address, "data:", "blob:", here.address.replace("http", "ws")))
    ] == []
    assert complaints == []
