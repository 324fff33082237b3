"""Looking at a large sheet: pyramid beside decoding, first picture, crops, memory, and the wheel in a real browser.

``python -m tests.bench.viewing SCAN`` measures one file in processes of their own and prints a Markdown table; with
``--browser`` also the time from a turn of the wheel to the new picture in JupyterLab.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

from tests.bench.running import ROOT, table

WINDOW_PX = (1000, 700)
"""Canvas of a bench on a screen of 1366 to 1920 px. [px]"""

ZOOMS = 24
CURVE = '[capture]\ntone_curve = "sRGB"\n'


def edition_of(scan, folder):
    """Return an edition folder around a link to one scan; a link of an earlier run makes way."""
    home = Path(folder) / "viewed"
    (home / "scans").mkdir(parents=True, exist_ok=True)
    link = home / "scans" / Path(scan).name
    for other in (home / "scans").iterdir():
        other.unlink()
    link.symlink_to(Path(scan).absolute())
    untold = "" if link.suffix == ".tif" else "ppi = 600\n"  # the benchmark's other files name no resolution
    (home / "edition.toml").write_text(f'title = "Viewing"\n{CURVE}{untold}')
    (home / "pulls.csv").write_text(f"pull,scan\n1,{link.name}\n")
    return home


def decode(home):
    """Decode the scan as plainly as can be, with two threads; uncompressed, that is one copy from the file cache."""
    from tests.bench.one import decode as plainly

    found = plainly(next((home / "scans").iterdir()), 2)
    return {"seconds": found["wall"], "cpu": found["cpu"], "pixels": found["pixels"]}


def pyramid(home):
    """Make the pyramid; compiled kernels are loaded before."""
    import numpy as np

    from proofkit.folder.read import read_edition
    from proofkit.pyramid.file import make_pyramid
    from proofkit.reflectance import tone_curve
    from proofkit.scan import open_scan
    from tests.scan.scan_files import write_tiff

    edition = read_edition(home)
    with tempfile.TemporaryDirectory(dir=home) as other:
        small = open_scan(write_tiff(Path(other) / "a.tif", np.zeros((64, 64, 3), np.uint8)))
        make_pyramid(small, tone_curve(small, edition.capture), Path(other) / "a.pyramid", stamp="", setup="")
        file = open_scan(edition.scan_path(edition.pulls[0]), ppi=edition.capture.ppi)
        curve = tone_curve(file, edition.capture)
        start, cpu = time.perf_counter(), time.process_time()
        make_pyramid(file, curve, Path(other) / "b.pyramid", stamp="", setup="")
        used = time.process_time() - cpu
        seconds = time.perf_counter() - start
    return {"seconds": seconds, "cpu": used, "peak_mb": peak_mb()}


def viewing(home):
    """Show the whole sheet from its ready pyramid, then zoom in at different places; no browser."""
    from proofkit.folder.read import read_edition
    from proofkit.looking import plain_sight
    from proofkit.widgets.sheet_view import pictures

    edition = read_edition(home)
    plain_sight(edition, edition.pulls[0], home)
    base_mb = peak_mb()
    start = time.perf_counter()
    sight = plain_sight(edition, edition.pulls[0], home)
    whole = (0.0, 0.0, sight.width_mm, sight.height_mm)
    scale = min(WINDOW_PX[0] / sight.width_mm, WINDOW_PX[1] / sight.height_mm)
    pictures(sight, None, "one", whole, scale)
    first = time.perf_counter() - start
    times, sizes = [], []
    for turn in range(ZOOMS):
        per_mm = min(scale * 1.25**turn, sight.scan_px_per_mm)
        width, height = (px / per_mm for px in WINDOW_PX)
        x, y = (
            (turn * share % 1.0) * side for share, side in ((0.37, sight.width_mm), (0.61, sight.height_mm))
        )
        box = (max(0.0, x - width / 2), max(0.0, y - height / 2), min(x + width / 2, sight.width_mm),
               min(y + height / 2, sight.height_mm))  # fmt: skip
        start = time.perf_counter()
        _, files = pictures(sight, None, "one", box, per_mm)
        times.append(time.perf_counter() - start)
        sizes.append(sum(map(len, files)))
    return {
        "first_s": first,
        "crop_ms": 1000 * median(times),
        "most_bytes": max(sizes),
        "before_mb": base_mb,
        "peak_mb": peak_mb(),
    }


def peak_mb():
    """Return the most memory that this process ever had. [MB]"""
    status = Path("/proc/self/status").read_text()
    return int(status.split("VmHWM:")[1].split()[0]) / 1000


WHEEL = """async ([part, turns]) => {
  const canvas = part.querySelector('canvas'), box = canvas.getBoundingClientRect(), times = [], sizes = [];
  const settled = () => part.dataset.settled === part.dataset.asked;
  for (let turn = 0; turn < turns; turn++) {
    const before = part.dataset.asked, start = performance.now();
    canvas.dispatchEvent(new WheelEvent('wheel', { deltaY: turn % 8 < 5 ? -120 : 120, cancelable: true, bubbles: true,
      clientX: box.left + box.width * (0.3 + 0.05 * (turn % 7)), clientY: box.top + box.height * 0.5 }));
    await new Promise(done => {
      const look = () => part.dataset.asked !== before && settled() ? done() : requestAnimationFrame(look);
      look();
    });
    times.push(performance.now() - start); sizes.push(Number(part.dataset.bytes));
  }
  return [times, sizes];
}"""
"""Turn the wheel again and again, each time waiting until the picture that was asked for last is painted."""


def wheel(home, turns=40):
    """Return the times from a turn of the wheel to the new picture, bytes sent, and the kernel's memory."""
    import nbformat

    from tests.browsing import chromium, lab

    lines = (
        "import os\nfrom proofkit.widgets import bench\n"
        f"panel = bench({str(home)!r})\nprint(os.getpid())\npanel"
    )
    with tempfile.TemporaryDirectory() as root, tempfile.TemporaryDirectory() as own:
        book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(lines)])
        book.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3", "language": "python"}
        nbformat.write(book, Path(root) / "view.ipynb")
        with chromium() as browser, lab(Path(root), Path(own)) as here:
            page = browser.new_page(viewport={"width": 1366, "height": 768})
            page.set_default_timeout(300_000)
            here.open(page, "view.ipynb")
            here.run_all(page)
            page.wait_for_selector(".pk-sheet[data-settled]")
            part = page.locator(".pk-sheet").element_handle()
            page.evaluate("part => part.scrollIntoView()", part)
            page.evaluate(WHEEL, [part, 8])
            times, sizes = page.evaluate(WHEEL, [part, turns])
            kernel = int(page.locator(".jp-OutputArea-output pre").first.inner_text().split()[0])
            memory = Path(f"/proc/{kernel}/status").read_text()
    return {
        "wheel_ms": median(times),
        "wheel_worst_ms": max(times),
        "most_bytes": max(sizes),
        "kernel_mb": int(memory.split("VmRSS:")[1].split()[0]) / 1000,
        "kernel_peak_mb": int(memory.split("VmHWM:")[1].split()[0]) / 1000,
    }


TASKS = {"decode": decode, "pyramid": pyramid, "viewing": viewing, "wheel": wheel}


def alone(task, home):
    """Return the figures of one measurement, done in a process of its own."""
    command = [sys.executable, "-m", "tests.bench.viewing", "--task", task, str(home)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(f"{task}: {done.stderr[-2000:]}")
    return json.loads(done.stdout.splitlines()[-1])


def viewing_row(scan, folder, repeats=3, *, browser=False):
    """Return what looking at a scan costs, as cells of a table; see `HEADS`."""
    home = edition_of(scan, folder)
    pairs = [(alone("decode", home), alone("pyramid", home)) for _ in range(repeats)]
    seen = [alone("viewing", home) for _ in range(repeats)]
    row = [
        pairs[0][0]["pixels"] / 1e6,
        median(one["seconds"] for one, _ in pairs),
        median(two["seconds"] for _, two in pairs),
        median(two["seconds"] / one["seconds"] for one, two in pairs),
        median(two["cpu"] / one["cpu"] for one, two in pairs),
        max(two["peak_mb"] for _, two in pairs),
        median(one["first_s"] for one in seen),
        median(one["crop_ms"] for one in seen),
        max(one["most_bytes"] for one in seen) / 1000,
        max(one["peak_mb"] for one in seen),
    ]
    if browser:
        found = alone("wheel", home)
        row += [found["wheel_ms"], found["most_bytes"] / 1000, found["kernel_peak_mb"]]
    return tuple(row)


HEADS = (
    "Mpx", "decode s", "pyramid s", "pyramid/decode", "the same in CPU s", "pyramid peak MB", "first picture s",
    "crop ms", "most kB", "viewing peak MB", "wheel to picture ms", "most kB in the browser", "kernel peak MB",
)  # fmt: skip


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("scan", type=Path)
    asked.add_argument("--task", choices=TASKS)
    asked.add_argument("--browser", action="store_true")
    asked.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "proofkit-bench")
    asked.add_argument("--repeats", type=int, default=3)
    given = asked.parse_args()
    if given.task:
        sys.stdout.write(json.dumps(TASKS[given.task](given.scan)) + "\n")
        return
    row = viewing_row(given.scan, given.folder, given.repeats, browser=given.browser)
    sys.stdout.write(table(HEADS[: len(row)], [row]) + "\n")


if __name__ == "__main__":
    main()
