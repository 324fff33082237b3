"""How far measures of regions lie from the truth."""

from __future__ import annotations

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


def joined(checked: Checked) -> pd.DataFrame:
    """Return truth (`true_...`) and results of all regions of one edition in one table."""
    names = ["plate_tone_density", "line_load_um", "line_width_um", "line_length_mm_per_mm2"]
    true = checked.true_measures[names].add_prefix("true_")
    both = true.join(checked.measurements[[*names, "work"]], how="inner").reset_index()
    both["edition"] = checked.edition.folder.name
    both["ppi"] = checked.ppi
    both["sound"] = both["pull"].isin(checked.sound)
    for name in names:
        for column in (name, f"true_{name}"):
            at_standard = both[both["pull"] == checked.standard].set_index("region")[column]
            both[f"standard_{column}"] = both["region"].map(at_standard)
    return both


def measure_rows(editions: list[Checked]) -> tuple[list[Row], pd.DataFrame]:
    """Return the rows on measures, and the joined table behind them."""
    table = pd.concat([joined(checked) for checked in editions], ignore_index=True)
    good = table[table["sound"]]
    rows = []
    for label, part in (("sound sheets", good), ("all sheets", table)):
        bar = label == "sound sheets"
        film = part["plate_tone_density"] - part["true_plate_tone_density"]
        is_open = part["work"] == "open"
        rows.append(
            errors_row(f"plate tone, open ground, {label}", film[is_open], "D", FILM_DENSITY if bar else None)
        )
        rows.append(
            errors_row(
                f"plate tone, worked regions, {label}", film[~is_open], "D", FILM_DENSITY if bar else None
            )
        )
        apart = film - (part["standard_plate_tone_density"] - part["standard_true_plate_tone_density"])
        limit = FILM_DIFFERENCE_DENSITY if bar else None
        rows.append(
            errors_row(f"plate tone against the standard, open ground, {label}", apart[is_open], "D", limit)
        )
        rows.append(
            errors_row(f"plate tone against the standard, worked, {label}", apart[~is_open], "D", limit)
        )
        length = part["line_length_mm_per_mm2"] / part["true_line_length_mm_per_mm2"] - 1
        rows.append(
            errors_row(f"line length, {label}", length, "%", 100 * LENGTH_RELATIVE if bar else None, 100)
        )
        broad = part[(part["true_line_width_um"] >= BROAD_UM) & (part["ppi"] >= 590)]
        width = broad["line_width_um"] - broad["true_line_width_um"]
        rows.append(
            errors_row(f"line width, lines >= 150 µm, {label}", width, "µm", WIDTH_UM if bar else None)
        )
        load = part["line_load_um"] / part["true_line_load_um"] - 1
        rows.append(errors_row(f"line load, {label}", load, "%", 100 * LOAD_RELATIVE if bar else None, 100))
        ratio = (part["line_load_um"] / part["standard_line_load_um"]) / (
            part["true_line_load_um"] / part["standard_true_line_load_um"]
        ) - 1
        rows.append(errors_row(f"line load against the standard, {label}", ratio, "%", None, 100))
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
