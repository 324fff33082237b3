"""Read what is true of an edition and what proofkit found, side by side."""

from __future__ import annotations

import io
import json
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from proofkit.folder.edition import Edition
from proofkit.folder.read import read_edition
from proofkit.laying.types import Laying
from proofkit.ledger.packing import from_bytes, join

STRONG = 0.55
"""Faults of at least this strength must be found; fainter ones count neither way."""


@dataclass(frozen=True, slots=True, eq=False)
class Checked:
    """One edition after the main job."""

    edition: Edition
    standard: str
    ppi: float
    true_pulls: pd.DataFrame
    """Indexed by pull: cause, second_cause, strength, regions."""
    true_sheets: pd.DataFrame
    true_measures: pd.DataFrame
    """Indexed by (pull, region)."""
    true_grid: pd.DataFrame | None
    """pull, x_mm, y_mm, x_px, y_px; None when the simulator wrote none."""
    measurements: pd.DataFrame
    """Indexed by (pull, region)."""
    sheets: pd.DataFrame
    judgement: pd.DataFrame
    findings: pd.DataFrame
    layings: dict[str, Laying]
    """Pull -> how it was laid; empty when the ledger does not say."""

    @property
    def sound(self) -> list[str]:
        """Pulls with nothing wrong."""
        return [p for p, row in self.true_pulls.iterrows() if not row["cause"]]

    @property
    def faulty(self) -> list[str]:
        """Pulls with a fault strong enough to be found."""
        return [p for p, row in self.true_pulls.iterrows() if row["cause"] and row["strength"] >= STRONG]


_TEXTS = ("pull", "region", "cause", "second_cause", "regions", "verdict", "causes", "quality")


def _table(path: Path, index: list[str] | None = None) -> pd.DataFrame:
    table = pd.read_csv(path, dtype=dict.fromkeys(_TEXTS, "str"))
    for name in table.columns.intersection(list(_TEXTS)):
        table[name] = table[name].fillna("")
    return table.set_index(index) if index else table


def read_checked(folder: Path) -> Checked:
    """Return truth and results of an edition folder that the main job has run on."""
    truth, results = folder / "truth", folder / "results"
    judgement = _table(results / "judgement.csv", ["pull"])
    standards = judgement.index[judgement["verdict"] == "standard"]
    edition = read_edition(folder)
    sheets = _table(results / "sheets.csv", ["pull"])
    grid = truth / "grid.csv"
    return Checked(
        edition,
        str(standards[0]) if len(standards) else str(edition.standard),
        float(sheets["ppi_x"].median()),
        _table(truth / "pulls.csv", ["pull"]),
        _table(truth / "sheets.csv", ["pull"]),
        _table(truth / "measurements.csv", ["pull", "region"]),
        _table(grid) if grid.exists() else None,
        _table(results / "measurements.csv", ["pull", "region"]),
        sheets,
        judgement,
        _table(results / "findings.csv"),
        layings(folder),
    )


def layings(folder: Path) -> dict[str, Laying]:
    """Return how each pull was laid, from the ledger; the newest where there are several."""
    path = folder / "ledger.sqlite"
    if not path.exists():
        return {}
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as ledger:
        rows = ledger.execute("SELECT sheet, scalars, arrays FROM proofkit_sheets ORDER BY id").fetchall()
    found = {}
    for sheet, scalars, arrays in rows:
        found[str(json.loads(sheet)["pull"])] = join(
            Laying, json.loads(scalars)["laying"], from_bytes(arrays), "laying"
        )
    return found


def table_bytes(folder: Path) -> dict[str, bytes]:
    """Return the tables in results/ as they are on disk."""
    return {path.name: path.read_bytes() for path in sorted((folder / "results").glob("*.csv"))}


def shown(table: pd.DataFrame) -> str:
    """Return a table as text."""
    out = io.StringIO()
    table.to_string(out, index=False)
    return out.getvalue()
