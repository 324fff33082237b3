"""A browser and a JupyterLab for tests and pictures; whoever opens one closes it."""

import json
import os
import secrets
import socket
import subprocess
import sys
import tempfile
import threading
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
SETTINGS = {
    "notebook-extension/tracker": {"windowingMode": "none", "autoStartDefaultKernel": True},
    "apputils-extension/notification": {"fetchNews": "false", "checkForUpdates": False},
}
START_SECONDS = 180
"""Longest wait for a server or kernel on a busy machine. [s]"""

HAS_KERNEL = "window.jupyterapp?.shell?.currentWidget?.context?.sessionContext?.session?.kernel"

RUN_ALL = """async () => {
  const app = window.jupyterapp;
  await app.restored;
  const widget = app.shell.currentWidget;
  await widget.context.ready;
  await widget.context.sessionContext.ready;
  await widget.context.sessionContext.session.kernel.info;
  if (!window.kernelFaults) {
    window.kernelFaults = [];
    widget.context.sessionContext.iopubMessage.connect((_, { header, content }) => {
      if (header.msg_type === 'error') window.kernelFaults.push(`${content.ename}: ${content.evalue}`);
      if (header.msg_type !== 'stream') return;
      const last = window.kernelFaults.at(-1) ?? '';
      if (content.text.includes('Traceback')) window.kernelFaults.push(content.text);
      // A thread's words come in pieces.
      else if (last.includes('Traceback')) window.kernelFaults[window.kernelFaults.length - 1] = last + content.text;
    });
  }
  await app.commands.execute('notebook:run-all-cells');
  return [...widget.content.model.cells].filter(cell => cell.type === 'code')
    .flatMap(cell => cell.outputs.toJSON()).filter(output => output.output_type === 'error')
    .map(output => output.ename + ': ' + output.evalue);
}"""
"""Run every cell through the application, not its menus, and return the errors in the outputs."""


@contextmanager
def chromium() -> Iterator[Browser]:
    """Open the system's Chromium."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        try:
            yield browser
        finally:
            browser.close()


def has_chromium() -> bool:
    return Path(CHROMIUM).is_file()


@dataclass(frozen=True)
class Lab:
    """A running JupyterLab."""

    address: str
    token: str

    def open(self, page: Page, name: str) -> None:
        """Show one notebook in a clean workspace."""
        page.goto(f"{self.address}/doc/tree/{name}?reset&token={self.token}")
        page.wait_for_function(HAS_KERNEL, timeout=1000 * START_SECONDS)

    def run_all(self, page: Page) -> list[str]:
        """Run all cells of the shown notebook; return the errors."""
        return page.evaluate(RUN_ALL)

    def kernel_faults(self, page: Page) -> list[str]:
        """Return what went wrong in the kernel since the cells were run, in answers of widgets and in threads too.

        JupyterLab shows neither in the notebook.
        """
        return page.evaluate("window.kernelFaults ?? []")


@contextmanager
def lab(root: Path, home: Path) -> Iterator[Lab]:
    """Serve `root`, with every file of its own below `home`."""
    for name, value in SETTINGS.items():
        file = home / "settings" / "@jupyterlab" / f"{name}.jupyterlab-settings"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(json.dumps(value))
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    here = Lab(f"http://127.0.0.1:{port}", secrets.token_hex(16))
    own = {
        "JUPYTER_CONFIG_DIR": "config", "JUPYTER_DATA_DIR": "data",
        "IPYTHONDIR": "ipython", "JUPYTERLAB_SETTINGS_DIR": "settings", "JUPYTERLAB_WORKSPACES_DIR": "workspaces",
        "PROOFKIT_RESULTS": "results",
    }  # fmt: skip
    command = [
        sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", "--ServerApp.ip=127.0.0.1",
        f"--ServerApp.port={port}", "--ServerApp.port_retries=0", f"--IdentityProvider.token={here.token}",
        f"--ServerApp.root_dir={root}", "--LabApp.expose_app_in_browser=True", "--LabApp.news_url=None",
        "--KernelManager.transport=ipc",
    ]  # fmt: skip
    log = home / "lab.log"
    # Kernels are reached through sockets in the runtime folder, whose path may have 107 characters (sun_path of
    # unix(7)): a test's own folder can be too long for that.
    with log.open("w") as out, tempfile.TemporaryDirectory(prefix="lab_") as runtime:
        environment = os.environ | {name: str(home / folder) for name, folder in own.items()}
        environment["JUPYTER_RUNTIME_DIR"] = runtime
        process = subprocess.Popen(command, env=environment, stdout=out, stderr=subprocess.STDOUT)
        try:
            _wait_for_answer(here, process, log)
            yield here
        finally:
            _end_sessions(here)
            process.terminate()
            try:
                process.wait(60)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def _ask(here: Lab, path: str, method: str = "GET") -> bytes:
    request = urllib.request.Request(  # noqa: S310 -- our own server on this machine
        here.address + path, method=method, headers={"Authorization": f"token {here.token}"}
    )
    with urllib.request.urlopen(request, timeout=10) as answer:  # noqa: S310 -- as above
        return answer.read()


def _wait_for_answer(here: Lab, process: subprocess.Popen[bytes], log: Path) -> None:
    pause = threading.Event()
    for _ in range(START_SECONDS * 10):
        try:
            _ask(here, "/api/status")
        except OSError:
            if process.poll() is not None:
                raise RuntimeError(log.read_text()) from None
            pause.wait(0.1)
        else:
            return
    raise TimeoutError(log.read_text())


def _end_sessions(here: Lab) -> None:
    try:
        for session in json.loads(_ask(here, "/api/sessions")):
            _ask(here, f"/api/sessions/{session['id']}", "DELETE")
    except (OSError, urllib.error.URLError):
        pass
