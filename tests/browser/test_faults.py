"""The net under the browser tests: what goes wrong in the kernel where no cell shows it is heard."""

import nbformat
import pytest
from playwright.sync_api import expect

from tests.browsing import has_chromium, lab

pytestmark = [
    pytest.mark.browser,
    pytest.mark.slow,
    pytest.mark.skipif(not has_chromium(), reason="no Chromium on this machine"),
]

LINES = """\
from threading import Thread
import ipywidgets

said = ipywidgets.Label("waiting")
answer, thread = (ipywidgets.Button(description=name) for name in ("answer", "thread"))
def go_wrong(_button):
    said.value = "answered"
    raise ValueError("in an answer")
answer.on_click(go_wrong)
thread.on_click(lambda _button: Thread(target=int, args=("in a thread",)).start())
ipywidgets.VBox([answer, thread, said])
"""


def test_errors_in_answers_and_threads_are_heard(browser, tmp_path):
    (tmp_path / "root").mkdir()
    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(LINES)])
    book.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3", "language": "python"}
    nbformat.write(book, tmp_path / "root" / "faults.ipynb")
    with lab(tmp_path / "root", tmp_path) as here:
        page = browser.new_page()
        page.set_default_timeout(60_000)
        here.open(page, "faults.ipynb")
        assert here.run_all(page) == []
        assert here.kernel_faults(page) == []
        page.get_by_role("button", name="answer", exact=True).click()
        expect(page.get_by_text("answered", exact=True)).to_be_visible()
        page.wait_for_function("() => window.kernelFaults.some(fault => fault.includes('in an answer'))")
        page.get_by_role("button", name="thread", exact=True).click()
        page.wait_for_function("() => window.kernelFaults.some(fault => fault.includes('in a thread'))")
        page.close()
