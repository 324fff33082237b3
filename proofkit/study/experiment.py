"""Read experiment.csv: which setting of which factor belongs to which plate, pull and region."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import pandas as pd

from proofkit.errors import FolderError
from proofkit.folder.numbers import number_of
from proofkit.folder.problems import place, quoted
from proofkit.folder.rows import Row, read_rows
from proofkit.study.settings import FactorSetting, Scale, StudySettings

EXPERIMENT_FILE = "experiment.csv"
KEYS = ("plate", "pull", "region")
BATCH = "batch"
"""Column that names what was made up once for several rows: a bath, an ink, a damp pile."""
NOTES = ("note",)

HOW = (
    f"Write {EXPERIMENT_FILE}: a column pull (and plate or region where the settings go with them), a column for each "
    "factor with its unit at the end of its name, such as bite_min or bath_c, and a row for each setting"
)

RANGES: tuple[tuple[str, float, float, str], ...] = (
    ("_min", 0, 20_000, "min; a time is never negative"),
    ("_h", 0, 1_000, "h; a time is never negative"),
    ("_s", 0, 1_000_000, "s; a time is never negative"),
    ("_c", -20, 150, "°C; 110 is what Fahrenheit calls 43 °C"),
    ("_percent", 0, 100, "%; 1 is one in a hundred"),
    ("_fraction", 0, 1, "0 to 1; percent would be _percent"),
    ("_g", 0, 100_000, "g"),
    ("_mm", 0, 10_000, "mm"),
    ("_um", 0, 100_000, "µm"),
    ("_density", -1, 5, "D"),
)
"""Values that are believed, by the unit at the end of a column's name, and what to say of others."""

UNITS = {
    "_min": "min",
    "_h": "h",
    "_s": "s",
    "_c": "°C",
    "_percent": "%",
    "_g": "g",
    "_mm": "mm",
    "_um": "µm",
    "_density": "D",
}

FEWEST_LEVELS = 2


@dataclass(frozen=True, slots=True)
class Factor:
    """One thing that was varied on purpose, or at least written down."""

    name: str
    kind: Literal["number", "word"]
    label: str
    unit: str
    scale: Scale
    levels: tuple[str, ...]
    """Of a word: the reference first. Of a number: empty."""


@dataclass(frozen=True, slots=True, eq=False)
class Experiment:
    """The table of an experiment."""

    keys: tuple[str, ...]
    """Which of plate, pull and region the rows name; a key that is left out means: all of them."""
    factors: tuple[Factor, ...]
    responses: tuple[str, ...]
    """Columns of experiment.csv that were measured by hand."""
    table: pd.DataFrame
    """Keys as text, number factors and responses as float64, word factors as text."""
    remarks: tuple[str, ...]


def read_experiment(folder: Path, settings: StudySettings) -> Experiment:
    """Return the table of an experiment.

    Raises
    ------
    FolderError
        If it is not there or cannot be used: one line each.
    """
    path = folder / EXPERIMENT_FILE
    if not path.is_file():
        raise FolderError(f"{quoted(folder)} has no {EXPERIMENT_FILE}. {HOW}.")
    problems: list[str] = []
    rows = read_rows(path, (), problems)
    columns = list(dict.fromkeys(name for row in rows for name in row.cells))
    keys = tuple(key for key in KEYS if key in columns)
    if not problems and not rows:
        problems.append(f"{EXPERIMENT_FILE} has no rows. {HOW}.")
    own = [name for name in settings.responses if name in columns and name not in keys]
    named = [name for name in columns if name not in (*KEYS, BATCH, *NOTES, *own)]
    _check_keys(rows, keys, problems)
    numbers = {name: _numbers(rows, name, problems) for name in (*own, *_numeric(rows, named))}
    words = {name: [row.cells.get(name, "") for row in rows] for name in named if name not in numbers}
    batch = {BATCH: [row.cells.get(BATCH, "") for row in rows]} if BATCH in columns else {}
    problems += [
        f"{place(EXPERIMENT_FILE, row.line)}: {name} is empty. Write the setting, or leave the row out."
        for name in (*named, *batch)
        for row in rows
        if not row.cells.get(name)
    ]
    if problems:
        raise FolderError("\n".join(problems))
    table = pd.DataFrame(
        {**{key: [row.cells[key] for row in rows] for key in keys}, **batch, **numbers, **words}
    )
    factors, still = _factors(table, named, settings.factors)
    if not factors:
        raise FolderError(f"{EXPERIMENT_FILE} has no factor that varies. {' '.join(still) or HOW + '.'}")
    return Experiment(keys, factors, tuple(own), table, tuple(still))


def _check_keys(rows: Sequence[Row], keys: tuple[str, ...], problems: list[str]) -> None:
    seen: dict[tuple[str, ...], int] = {}
    for row in rows:
        empty = [key for key in keys if not row.cells.get(key)]
        if empty:
            problems.append(
                f"{place(EXPERIMENT_FILE, row.line)}: {empty[0]} is empty. Say what the setting belongs to."
            )
            continue
        named = tuple(row.cells[key] for key in keys)
        first = seen.setdefault(named, row.line)
        if keys and first != row.line:
            shown = ", ".join(f"{key} {quoted(cell)}" for key, cell in zip(keys, named, strict=True))
            problems.append(
                f"{place(EXPERIMENT_FILE, row.line)}: {shown} stands in line {first} already. Keep one row for it."
            )


def _numeric(rows: Sequence[Row], columns: list[str]) -> list[str]:
    """Return the columns that hold numbers, whole or in part; what is no number in them is then told."""
    return [
        name
        for name in columns
        if any(math.isfinite(number_of(row.cells.get(name, ""))) for row in rows)
        and not _are_codes(rows, name)
    ]


def _are_codes(rows: Sequence[Row], name: str) -> bool:
    """Tell a column of words in which a few begin with a digit, such as recipe codes."""
    bad = [row.cells.get(name, "") for row in rows if not math.isfinite(number_of(row.cells.get(name, "")))]
    return bool(bad) and not any(re.match(r"^-?\d", cell) for cell in bad if cell)


def _numbers(rows: Sequence[Row], name: str, problems: list[str]) -> list[float]:
    found = []
    for row in rows:
        text = row.cells.get(name, "")
        value = number_of(text)
        found.append(value)
        if not text:
            continue
        where = place(EXPERIMENT_FILE, row.line)
        if not math.isfinite(value):
            problems.append(
                f"{where}: {name} is {quoted(text)}, the others are numbers. Write the number alone and its unit "
                "into the column's name, such as bite_min."
            )
            continue
        fault = value_fault(name, value)
        if fault:
            problems.append(f"{where}: {fault}")
    return found


def value_fault(name: str, value: float) -> str | None:
    """Return what is wrong with a number, judged by the unit at the end of its column's name.

    >>> value_fault("bite_min", -3.0)
    'bite_min is -3, allowed is 0 to 20000 (min; a time is never negative). Check value and unit.'
    """
    for ending, low, high, hint in RANGES:
        if name.endswith(ending) and not low <= value <= high:
            return f"{name} is {value:g}, allowed is {low:g} to {high:g} ({hint}). Check value and unit."
    return None


def unit_of_name(name: str) -> str:
    """Return the unit at the end of a column's name.

    >>> unit_of_name("bath_c"), unit_of_name("wiping")
    ('°C', '')
    """
    return next((unit for ending, unit in UNITS.items() if name.endswith(ending)), "")


def _factors(
    table: pd.DataFrame, names: list[str], meant: dict[str, FactorSetting]
) -> tuple[tuple[Factor, ...], list[str]]:
    """Return the factors that vary, and a sentence for each that does not."""
    factors, still = [], []
    for name in names:
        setting = meant.get(name, FactorSetting())
        values = table[name]
        if len(set(values)) < FEWEST_LEVELS:
            still.append(f"Factor {name} never varies (always {values.iloc[0]}): nothing can be said of it.")
            continue
        is_number = values.dtype == np.float64
        if setting.scale == "log" and (not is_number or not (values > 0).all()):
            still.append(f"Factor {name} has no logarithm (values must be above 0): it is taken as it is.")
            setting = FactorSetting(setting.label, setting.unit, "linear", setting.reference)
        levels = () if is_number else _levels(list(dict.fromkeys(values)), setting.reference, name, still)
        label = setting.label or name.replace("_", " ")
        unit = setting.unit or unit_of_name(name)
        factors.append(Factor(name, "number" if is_number else "word", label, unit, setting.scale, levels))
    return tuple(factors), still


def _levels(found: list[str], reference: str, name: str, still: list[str]) -> tuple[str, ...]:
    if reference and reference not in found:
        still.append(
            f"Factor {name} has no level {quoted(reference)} to compare with; {quoted(found[0])} is taken instead."
        )
        reference = ""
    first = reference or found[0]
    return (first, *(level for level in found if level != first))
