"""What may stand in a cell of the pull log."""

import re
from collections.abc import Callable
from datetime import date, time

from proofkit.columns import PULL_LOG, names
from proofkit.folder.numbers import number_of
from proofkit.folder.problems import quoted
from proofkit.ledger.decisions import DECISION_WORDS
from proofkit.record.kinds import find_kind, kind_fault

RANGES: dict[str, tuple[float, float, str]] = {
    "minutes_since_mixing": (0, 60_000, "a month and more would be another batch"),
    "soak_min": (0, 20_000, "minutes, not hours or days"),
    "rest_min": (0, 20_000, "minutes, not hours or days"),
    "sheet_dry_g": (0.1, 5_000, "grams"),
    "sheet_damp_g": (0.1, 10_000, "grams"),
    "plate_temperature_c": (0, 90, "degrees Celsius; 110 is what Fahrenheit calls 43 °C"),
    "room_c": (-10, 50, "degrees Celsius"),
    "room_rh_percent": (1, 100, "percent, not a share of 1"),
}
"""Values that are believed, and what a value outside most often is. Common practice of studios; a plate is barely warm
to 60 °C."""

UNITS = {column.name: column.unit for column in PULL_LOG if column.kind == "number"}
DATES = ("pulled_on", "flattened_on", "destroyed_on")
TIMES = ("started", "ended")
FLAGS = ("cloth_changed", "plate_cleaned")
YES_NO = {
    "yes": "yes",
    "y": "yes",
    "true": "yes",
    "1": "yes",
    "no": "no",
    "n": "no",
    "false": "no",
    "0": "no",
}

FORMULA_STARTS = ("=", "+", "-", "@")

LONGEST_CELL = 500
"""Characters of a note."""


def cell_fault(name: str, text: str) -> str | None:
    """Return what is wrong with a cell that is not empty, None when nothing is.

    >>> cell_fault("soak_min", "-5")
    "soak_min is '-5' min, allowed is a number from 0 to 20000 min (minutes, not hours or days)."
    """
    if name not in names(PULL_LOG):
        return f"{quoted(name)} is no column of the pull log; allowed are {', '.join(names(PULL_LOG))}."
    if len(text) > LONGEST_CELL or not text.isprintable():
        return f"{name} {quoted(text)} is no note; allowed is one line of up to {LONGEST_CELL} characters."
    if name not in UNITS and text.startswith(FORMULA_STARTS):
        return f"{name} {quoted(text)} begins with a sign that spreadsheets take for a formula. Begin with a letter."
    return _checker(name)(name, text)


def _checker(name: str) -> Callable[[str, str], str | None]:
    if name == "kind":
        return lambda _name, text: kind_fault(text)
    if name == "status":
        return _status
    if name in UNITS:
        return _number
    if name in DATES:
        return _date
    if name in TIMES:
        return _time
    return _flag if name in FLAGS else lambda _name, _text: None


def _status(_name: str, text: str) -> str | None:
    if text.lower() in DECISION_WORDS:
        return None
    return f"status {quoted(text)} is not known; allowed is {', '.join(DECISION_WORDS)} or nothing."


def _number(name: str, text: str) -> str | None:
    low, high, hint = RANGES[name]
    value = number_of(text)
    if low <= value <= high:
        return None
    unit = UNITS[name]
    return f"{name} is {quoted(text)} {unit}, allowed is a number from {low:g} to {high:g} {unit} ({hint})."


def _date(name: str, text: str) -> str | None:
    try:
        date.fromisoformat(text)
    except ValueError:
        return f"{name} is {quoted(text)}, allowed is a date such as 2024-03-11 (year, month, day)."
    return None


def _time(name: str, text: str) -> str | None:
    if re.fullmatch(r"([01]?\d|2[0-3]):[0-5]\d", text):
        return None
    return f"{name} is {quoted(text)}, allowed is a time of day such as 14:05."


def _flag(name: str, text: str) -> str | None:
    return None if text.lower() in YES_NO else f"{name} is {quoted(text)}, allowed is yes or no."


def tidy(name: str, text: str) -> str:
    """Return a good cell as the log keeps it: kinds in full, one way to write numbers, times and yes.

    >>> tidy("kind", "A.P."), tidy("soak_min", "30,0"), tidy("started", "9:05")
    ("artist's proof", '30', '09:05')
    """
    if not text:
        return ""
    if name == "kind" and (kind := find_kind(text)) is not None:
        return kind.name
    if name in UNITS:
        return f"{number_of(text):.6g}"
    if name in TIMES:
        hour, minute = text.split(":")
        return time(int(hour), int(minute)).isoformat("minutes")
    if name in FLAGS:
        return YES_NO[text.lower()]
    return text.lower() if name == "status" else text


def row_faults(cells: dict[str, str]) -> list[str]:
    """Return what does not go together in a row whose cells are good by themselves."""
    faults = []
    dry, damp = (number_of(cells.get(name, "")) for name in ("sheet_dry_g", "sheet_damp_g"))
    if damp < dry:
        faults.append(
            f"sheet_damp_g is {damp:g} g and sheet_dry_g {dry:g} g, but a damp sheet is heavier. Are the two mixed up?"
        )
    if cells.get("started") and cells.get("ended") and cells["ended"] < cells["started"]:
        faults.append(f"ended is {cells['ended']}, before started, {cells['started']}. Mend one of them.")
    for later in ("flattened_on", "destroyed_on"):
        if cells.get(later) and cells.get("pulled_on") and cells[later] < cells["pulled_on"]:
            faults.append(
                f"{later} is {cells[later]}, before pulled_on, {cells['pulled_on']}. Mend one of them."
            )
    if cells.get("destroyed_on") and cells.get("status") == "keep":
        faults.append("status is keep, but there is a date in destroyed_on. Mend one of them.")
    return faults


def moisture_percent(cells: dict[str, str]) -> float:
    """Return the moisture of a sheet as it went to press, of its dry mass; NaN where a mass is missing. [%]

    >>> moisture_percent({"sheet_dry_g": "40", "sheet_damp_g": "50"})
    25.0
    """
    dry, damp = (number_of(cells.get(name, "")) for name in ("sheet_dry_g", "sheet_damp_g"))
    return 100.0 * (damp - dry) / dry
