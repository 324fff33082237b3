"""How far measures of regions lie from the truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from tests.accuracy.rows import Row, errors_row
from tests.accuracy.tables import Checked

FILM_DENSITY = 0.004
FILM_DIFFERENCE_DENSITY = 0.002
LENGTH_RELATIVE = 0.03
WIDTH_UM = 8.0
LOAD_RELATIVE = 0.04
BROAD_UM = 150.0
"""Width above which line width has to be right at 600 ppi and more."""


PPI_PER_LINE_PER_MM = 100.0
"""Hatching up to ppi / 100 lines per mm (6 at 600 ppi) can be asked for: two scan pixels to each half of a period.
Finer work is shown without a bar."""


def joined(checked: Checked) -> pd.DataFrame:
    """Return truth (`true_...`) and results of all regions of one edition in one table."""
    names = ["plate_tone_density", "line_load_um", "line_width_um", "line_length_mm_per_mm2"]
    true = checked.true_measures[names].add_prefix("true_")
    length = checked.true_measures["line_length_mm_per_mm2"]
    true["per_mm"] = checked.true_measures.get("lines_per_mm", length)
    both = true.join(checked.measurements[[*names, "work"]], how="inner").reset_index()
    both["edition"] = checked.edition.folder.name
    both["ppi"] = checked.ppi
    both["sound"] = both["pull"].isin(checked.sound)
    both["fine"] = both["per_mm"] > checked.ppi / PPI_PER_LINE_PER_MM
    for name in names:
        for column in (name, f"true_{name}"):
            at_standard = both[both["pull"] == checked.standard].set_index("region")[column]
            both[f"standard_{column}"] = both["region"].map(at_standard)
    return both


def measure_rows(editions: list[Checked]) -> tuple[list[Row], pd.DataFrame]:
    """Return the rows on measures, and the joined table behind them."""
    table = pd.concat([joined(checked) for checked in editions], ignore_index=True)
    sound, coarse = table["sound"], ~table["fine"]
    rows = []
    for label, part, bars in (
        ("sound sheets", table[sound & coarse], True),
        ("faulty sheets", table[~sound & coarse], False),
        ("sound sheets, finer than ppi/100", table[sound & ~coarse], False),
    ):
        rows += [
            row if bars else replace(row, bar=None) for row in _rows_of(part, label) if row.count or bars
        ]
    lines = table[np.isfinite(table["true_line_load_um"])]
    empty = int(lines["line_load_um"].isna().sum())
    rows.append(
        Row(
            "line regions left without a line load",
            100 * empty / max(1, len(lines)),
            "%",
            None,
            "<=",
            len(lines),
        )
    )
    return rows, table


def _rows_of(part: pd.DataFrame, label: str) -> list[Row]:
    def ratio(name: str, *, standard: bool = False) -> pd.Series:
        own = part[name] / part[f"true_{name}"]
        return own / (part[f"standard_{name}"] / part[f"standard_true_{name}"]) - 1 if standard else own - 1

    is_open = part["work"] == "open"
    film = part["plate_tone_density"] - part["true_plate_tone_density"]
    apart = film - (part["standard_plate_tone_density"] - part["standard_true_plate_tone_density"])
    # A width is asked for where the scan resolves it.
    broad = part[(part["true_line_width_um"] >= BROAD_UM) & (part["ppi"] >= 590)]
    width = broad["line_width_um"] - broad["true_line_width_um"]
    return [
        errors_row(f"plate tone, open ground, {label}", film[is_open], "D", FILM_DENSITY),
        errors_row(f"plate tone, worked, {label}", film[~is_open], "D", FILM_DENSITY),
        errors_row(
            f"plate tone to standard, open ground, {label}", apart[is_open], "D", FILM_DIFFERENCE_DENSITY
        ),
        errors_row(f"plate tone to standard, worked, {label}", apart[~is_open], "D", FILM_DIFFERENCE_DENSITY),
        errors_row(f"line length, {label}", ratio("line_length_mm_per_mm2"), "%", 100 * LENGTH_RELATIVE, 100),
        errors_row(f"line width of 150 µm and more, {label}", width, "µm", WIDTH_UM),
        errors_row(f"line load, {label}", ratio("line_load_um"), "%", 100 * LOAD_RELATIVE, 100),
        errors_row(f"line load to standard, {label}", ratio("line_load_um", standard=True), "%", None, 100),
    ]
