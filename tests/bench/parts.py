"""The parts of the benchmark; each returns a heading and a Markdown table."""

import math
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

from tests.bench import scans
from tests.bench.running import ROOT, middle, one, paired, ratio, table
from tests.bench.viewing import HEADS, viewing_row

NS = 1e9


def reading(asked):
    """Reading a scan beside decoding it: every kind of file."""
    rows = []
    for size in asked.megapixels:
        for kind in scans.KINDS:
            path = scans.scan(asked.folder, size, kind)
            read, decode = paired(asked.repeats, ("read", path, 2), ("decode", path, 2))
            pixels = decode[0]["pixels"]
            rows.append((
                f"{size} Mpx", kind, path.stat().st_size / 1e6, middle(decode, "wall"), middle(read, "wall"),
                ratio(read, decode, "wall"), middle(decode, "cpu") / pixels * NS, middle(read, "cpu") / pixels * NS,
                middle(read, "reading_cpu") / pixels * NS, middle(decode, "peak_mb"), middle(read, "peak_mb"),
            ))  # fmt: skip
    heads = ("sheet", "file", "MB", "decode s", "read s", "read/decode", "decode CPU ns/px", "read CPU ns/px",
             "... without hash", "decode peak MB", "read peak MB")  # fmt: skip
    return "Reading (hash, luminance plane, overview) beside a plain decode, both with two threads", table(
        heads, rows
    )


def sheet(asked):
    """Measure a whole sheet beside decoding it."""
    rows = []
    points = {}
    for size in asked.megapixels:
        for kind in asked.kinds:
            home = scans.edition(asked.folder, size, kind, 1)
            path = next((home / "scans").glob("pull_1.*"))
            one("ready", home)
            whole, decode = paired(asked.repeats, ("sheet", home, 1, 1), ("decode", path, 2))
            pixels = decode[0]["pixels"]
            outside = median((w["cpu"] - d["cpu"]) / pixels * NS for w, d in zip(whole, decode, strict=True))
            points.setdefault(kind, []).append((pixels, middle(whole, "cpu"), middle(whole, "peak_mb")))
            rows.append((
                f"{size} Mpx", kind, middle(decode, "wall"), middle(whole, "wall"), ratio(whole, decode, "wall"),
                middle(whole, "cpu"), outside, middle(whole, "base_mb"), middle(whole, "peak_mb"),
                middle(whole, "loading_cpu"),
            ))  # fmt: skip
    heads = ("sheet", "file", "decode s", "sheet s", "sheet/decode", "sheet CPU s", "CPU outside decode ns/px",
             "before MB", "peak MB", "standard from its file CPU s")  # fmt: skip
    return "A whole sheet, laying and all measures, 12 regions, standard ready", table(heads, rows) + _growth(
        points
    )


def _growth(points):
    """Return how time and memory grow with pixels, as exponents of a power law."""
    lines = []
    for kind, seen in points.items():
        if len(seen) > 1:
            (p0, c0, m0), (p1, c1, m1) = seen[0], seen[-1]
            steps = math.log(p1 / p0)
            lines.append(f"Growth, {kind}: CPU ~ pixels^{math.log(c1 / c0) / steps:.2f}, "
                         f"peak ~ pixels^{math.log(m1 / m0) / steps:.2f}.")  # fmt: skip
    return "".join(f"\n\n{line}" for line in lines)


def standard(asked):
    """Make and keep a standard, once an edition."""
    rows = []
    for size in asked.megapixels:
        made = one("standard", scans.edition(asked.folder, size, "lzw 8", 1))
        rows.append((f"{size} Mpx", made["points"], made["wall"], made["cpu"], made["peak_mb"], made["keep_cpu"],
                     made["kept_mb"]))  # fmt: skip
    heads = ("sheet", "points of line", "s", "CPU s", "peak MB", "keeping it CPU s", "file MB")
    return "The standard, made and kept, with compiled code at hand", table(heads, rows)


def stages(asked):
    """Where the time of a sheet goes."""
    found = [
        one("split", scans.edition(asked.folder, size, "lzw 8", 1), 1, threads=1) for size in asked.megapixels
    ]
    rows = [(stage, *(f"{split[stage]:.2f}" for split in found)) for stage in found[0]]
    return "Stages of a sheet, CPU s", table(("stage", *(f"{size} Mpx" for size in asked.megapixels)), rows)


def plain(asked):
    """The same sheet by library calls on whole arrays."""
    rows = []
    for size in asked.megapixels:
        if size > asked.largest_plain:
            continue
        home = scans.edition(asked.folder, size, "lzw 8", 1)
        paths = [home / "scans" / f"pull_{pull}.tif" for pull in (1, 0)]
        whole, library = paired(1, ("sheet", home, 1, 1), ("plain", *paths))
        rows.append((
            f"{size} Mpx", middle(library, "cpu"), middle(library, "wall"), middle(library, "peak_mb"),
            ratio(library, whole, "cpu"), ratio(library, whole, "wall"), ratio(library, whole, "peak_mb"),
        ))  # fmt: skip
    heads = ("sheet", "plain CPU s", "plain s", "plain peak MB", "CPU, times ours", "wall, times ours",
             "memory, times ours")  # fmt: skip
    return "Against plain calls of scikit-image and scipy", table(heads, rows)


def many(asked):
    """Many small sheets: on one processor, by threads, by a cluster of two processes, and with nothing to do."""
    rows = []
    for sheets in asked.sheets:
        home = scans.small_edition(asked.folder, sheets)
        with tempfile.TemporaryDirectory(dir=asked.folder) as kept:
            runs = {
                "1 processor": one("pile", home, 1, "", f"{kept}/one.sqlite", threads=1, processors=1),
                "2 sheets at a time": one("pile", home, 2, "", f"{kept}/two.sqlite", threads=1),
                "1 sheet at a time": one("pile", home, 1, "", f"{kept}/inside.sqlite", threads=1),
                "unchanged": one("pile", home, 2, "", f"{kept}/two.sqlite", threads=1),
            }
            with _dask(kept) as address:
                one("pile", home, None, address, f"{kept}/warm.sqlite", threads=1)
                runs["2 dask workers"] = one("pile", home, None, address, f"{kept}/dask.sqlite", threads=1)
            ledger_kb = Path(kept, "two.sqlite").stat().st_size / 1e3 / sheets
        base = runs["1 processor"]["sheets_wall"]
        rows += [
            (sheets, how, run["new"], run["wall"], run["sheets_wall"],
             base / run["sheets_wall"] if run["sheets_wall"] else "-",
             run["sheets_wall"] / max(sheets - 1, 1), run["cpu"], run["peak_mb"], ledger_kb)
            for how, run in runs.items()
        ]  # fmt: skip
    heads = ("sheets", "how", "measured", "all s", "all but the standard s", "times as fast", "s per sheet",
             "CPU here s", "peak MB", "ledger kB per sheet")  # fmt: skip
    return "Many small sheets", table(heads, rows)


def pile(asked):
    """Large sheets one after another and two at a time, the standard's own known before."""
    rows = []
    for size in asked.megapixels:
        home = scans.edition(asked.folder, size, "lzw 8", asked.pile)
        ways = {"1 processor": (1, 1), "2 sheets at a time": (2, None)}
        with tempfile.TemporaryDirectory(dir=asked.folder) as kept:
            one("pile", scans.edition(asked.folder, size, "lzw 8", 0), 1, "", f"{kept}/standard.sqlite")
            runs = {}
            for how, (workers, processors) in ways.items():
                ledger = shutil.copy(f"{kept}/standard.sqlite", f"{kept}/{workers}.sqlite")
                runs[how] = one("pile", home, workers, "", ledger, 0, threads=1, processors=processors)
        base = runs["1 processor"]["sheets_wall"]
        rows += [
            (
                f"{size} Mpx",
                run["new"],
                how,
                run["sheets_wall"],
                base / run["sheets_wall"],
                run["cpu"],
                run["peak_mb"],
            )
            for how, run in runs.items()
        ]
    heads = ("sheet", "sheets", "how", "s", "times as fast", "CPU s", "peak MB")
    return "Large sheets, several at once", table(heads, rows)


class _dask:  # noqa: N801  used as a function
    """A scheduler and two workers with one thread each, as processes of their own, with dask's own settings."""

    def __init__(self, folder):
        self.folder = Path(folder)

    def __enter__(self):
        from tests.workers.machines import Machines

        self.made = Machines(self.folder, 2)
        return self.made.address

    def __exit__(self, *_):
        self.made.stop()


def start(asked):
    """Start of the command line and of imports, from a cold process."""
    rows = []
    commands = {
        "python -c pass": ["-c", "pass"],
        "proofkit --help": ["-m", "proofkit", "--help"],
        "import proofkit": ["-c", "import proofkit"],
        "import proofkit.sheet": ["-c", "import proofkit.sheet"],
        "import proofkit.check": ["-c", "import proofkit.check"],
    }
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    for name, arguments in commands.items():
        walls, cpus = [], []
        for _ in range(2 * asked.repeats + 1):
            before, began = os.times(), time.perf_counter()
            subprocess.run(
                [sys.executable, *arguments], env=environment, stdout=subprocess.DEVNULL, check=True
            )
            walls.append(time.perf_counter() - began)
            after = os.times()
            cpus.append(
                after.children_user + after.children_system - before.children_user - before.children_system
            )
        rows.append((name, median(walls[1:]), median(cpus[1:])))
    return "Start", table(("what", "wall s", "CPU s"), rows)


def ledger(asked):
    """Questions to a ledger with few and with many editions, in a file and in PostgreSQL."""
    from tests.bench.ledgers import question_times
    from tests.postgres import Server, programs

    rows = []
    with tempfile.TemporaryDirectory(dir=asked.folder) as kept:
        rows += question_times(f"{kept}/ledger.sqlite", asked.editions, "file")
    if found := programs():
        server = Server(found)
        try:
            rows += question_times(server.url(server.new_database()), asked.editions, "PostgreSQL")
        finally:
            server.remove()
    heads = ("ledger", "editions", "sheets", "MB", "kB per sheet", "open ms", "keep a sheet ms", "find 30 sheets ms",
             "an edition's rows ms", "a pull's rows ms")  # fmt: skip
    return "Questions to the ledger", table(heads, rows)


def viewing(asked):
    """Looking at a sheet on the bench: its pyramid beside decoding, the first picture, views, memory."""
    rows = []
    for size in asked.megapixels:
        for kind in asked.kinds:
            path = scans.scan(asked.folder, size, kind)
            home = asked.folder / "viewing" / f"{size}" / kind.replace(" ", "_")
            rows.append((kind, *viewing_row(path, home, asked.repeats, browser=asked.browser)))
    return "Looking at a sheet, two threads each", table(("file", *HEADS)[: len(rows[0])], rows)


def clean(asked):
    """Remove what was drawn."""
    shutil.rmtree(asked.folder)


PARTS = {
    "reading": reading, "standard": standard, "sheet": sheet, "stages": stages, "plain": plain, "many": many,
    "pile": pile, "start": start, "ledger": ledger, "viewing": viewing,
}  # fmt: skip
