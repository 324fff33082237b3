"""An edition on a small plate whose pull 2 was laid down again, on two days by two people."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from tests.simulate import EditionText, ScanKind, make_edition, make_plate, ordinary_pull, render, write_scan

PPI = 600.0
SEED = 4
PAPER_OF_DAY = {"1": 1.0, "2": 0.985}
"""What the scanner makes of the same paper on the two days: it is warmer on the second."""


def make_relays(folder: Path, lays: int, *, stranger: bool = False) -> None:
    """Write the edition with `lays` scans of pull 2; a stranger is a scan of pull 3 that is said to show pull 2."""
    plate = make_plate("trial", 1)
    pulls = [ordinary_pull(str(k), 900 + k, margin_mm=8.0) for k in (1, 2, 3)]
    make_edition(folder, plate, pulls, PPI, SEED, EditionText("Trial passages", "1"))
    (folder / "relays").mkdir()
    rng = np.random.default_rng(5)
    rows = []
    for k in range(lays):
        day = str(1 + k % 2)
        rows.append({"pull": "2", "scan": f"relays/2_{k}.tif", "day": day, "operator": ""})
        _scan(folder / rows[-1]["scan"], plate, pulls[1], SEED * 1000 + 1, 100 + k, PAPER_OF_DAY[day], rng)
    if stranger:
        rows.append({"pull": "2", "scan": "relays/2_wrong.tif", "day": "1", "operator": ""})
        _scan(folder / rows[-1]["scan"], plate, pulls[2], SEED * 1000 + 2, 200, 1.0, rng)
    pd.DataFrame(rows).to_csv(folder / "relays.csv", index=False)


def _scan(path, plate, pull, seed, scan_seed, level, rng):
    lay = replace(
        pull,
        rotation_deg=float(rng.normal(0, 0.7)),
        margin_mm=float(rng.uniform(7.5, 9.5)),
        paper=pull.paper * level,
    )
    rendered = render(plate, lay, PPI, seed, scan_seed)
    write_scan(path, rendered.plane, PPI, ScanKind(), (1.0, 1.0, 1.0))
