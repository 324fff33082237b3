"""Which editions the accuracy table is made from, and the main job on each."""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.accuracy.rows import Row
from tests.accuracy.tables import table_bytes
from tests.heldout.edition import Order, write_edition

Check = Callable[..., object]

SMALL = (58.0, 52.0)
MIDDLE = (84.0, 66.0)

DEFAULT = (
    Order(2, 20, 600, faults=True, size_mm=MIDDLE),
    Order(3, 20, 600, faults=True, size_mm=SMALL),
    Order(9, 20, 600, faults=True, size_mm=SMALL),
    Order(10, 20, 600, faults=True, size_mm=MIDDLE),
    Order(13, 12, 1200, faults=True, size_mm=(50.0, 50.0)),
    Order(14, 20, 400, faults=True, size_mm=MIDDLE),
    Order(12, 16, 600, faults=False, size_mm=SMALL),
    Order(15, 12, 600, faults=False, size_mm=MIDDLE),
)
"""Between them: every fault; clean-wiped and toned plates; no bed, black bed, white bed; grey and RGB, 8 and 16 bit,
linear, sRGB and gamma codes; wear over the pulls (seed 3) and another ink from one pull on (9 and 13)."""

QUICK = (
    Order(2, 12, 600, faults=True, size_mm=SMALL),
    Order(13, 8, 600, faults=False, size_mm=SMALL),
)


@dataclass(frozen=True, slots=True)
class Run:
    """One edition that the main job ran on."""

    folder: Path
    sheets: int
    seconds: float
    same_again: bool


def make(orders: tuple[Order, ...], under: Path, *, sample: bool) -> list[Path]:
    """Write the editions that are not there yet and return their folders; `sample` adds the other simulator's."""
    folders = []
    for order in orders:
        folder = under / f"seed{order.seed}_{order.ppi}ppi_{'faults' if order.faults else 'sound'}"
        if not (folder / "edition.toml").exists():
            print(f"drawing {folder.name} ...", flush=True)
            write_edition(folder, order)
        folders.append(folder)
    if sample:
        folder = under / "sample"
        if not (folder / "edition.toml").exists():
            _sample(folder)
        folders.append(folder)
    return folders


def _sample(folder: Path) -> None:
    """Copy the sample edition where nothing is kept by the main job, or draw it when there is none."""
    ready = sorted(Path("sample_scans").glob("mill*/truth"))
    if ready:
        skip = shutil.ignore_patterns("results", "ledger.sqlite*")
        shutil.copytree(ready[0].parent, folder, ignore=skip)
        return
    print("drawing the sample edition ...", flush=True)
    subprocess.run([sys.executable, "-m", "tests.simulate", str(folder)], check=True)


def run(check: Check, folder: Path) -> Run:
    """Run the main job from nothing, then again, and tell whether the tables stayed the same."""
    shutil.rmtree(folder / "results", ignore_errors=True)
    for path in folder.glob("ledger.sqlite*"):
        path.unlink()
    begin = time.perf_counter()
    check(folder)
    seconds = time.perf_counter() - begin
    first = table_bytes(folder)
    check(folder)
    count = sum(1 for _ in (folder / "scans").iterdir())
    return Run(folder, count, seconds, bool(first) and table_bytes(folder) == first)


def run_rows(runs: list[Run]) -> list[Row]:
    """Return the rows on running: repeatable tables, seconds a sheet."""
    differing = [r.folder.name for r in runs if not r.same_again]
    sheets = sum(r.sheets for r in runs)
    return [
        Row(
            "editions whose tables differ on a second run",
            len(differing),
            "",
            0.0,
            "<=",
            len(runs),
            ", ".join(differing),
        ),
        Row("time", sum(r.seconds for r in runs) / max(1, sheets), "s/sheet", None, "<=", sheets),
    ]
