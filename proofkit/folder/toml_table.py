"""Values of a TOML table with a line for each that is not as it should be."""

import math
import re
import tomllib
from dataclasses import dataclass, field

from proofkit.folder.problems import place, quoted


def line_of(text: str, table: str, key: str) -> int | None:
    r"""Return the line where a key of a table stands; the parser does not tell.

    >>> line_of('title = "Harbour"\n[capture]\nppi = 600', "capture", "ppi")
    3
    """
    current = ""
    dotted = re.compile(rf"""\s*{re.escape(table)}\s*\.\s*["']?{re.escape(key)}["']?\s*[=.]""")
    plain = re.compile(rf"""\s*["']?{re.escape(key)}["']?\s*[=.]""")
    for number, line in enumerate(text.splitlines(), start=1):
        header = re.match(r"\s*\[\[?\s*([^\]]+?)\s*\]", line)
        if header:
            current = re.sub(r"""["'\s]""", "", header[1])
            if current == f"{table}.{key}".lstrip("."):
                return number
        elif (current == table and plain.match(line)) or (not current and table and dotted.match(line)):
            return number
    return None


MOST_BITS = 1000
"""Whole numbers of TOML have no limit; beyond this one they are no quantity and no float holds them."""


@dataclass(frozen=True, slots=True)
class TomlTable:
    """A table of a TOML file; each reader takes a key, returns its value or None, and reports what is wrong."""

    file: str
    text: str
    """The whole file, to find lines in."""
    name: str
    """Dotted name of the table, empty for the top."""
    values: dict[str, object]
    problems: list[str]
    """Receives one line for each wrong value."""
    used: set[str] = field(default_factory=set)
    """Keys that were asked for."""

    def report(self, key: str, fault: str) -> None:
        """Say what is wrong with the value of `key`."""
        self.problems.append(f"{place(self.file, line_of(self.text, self.name, key))}: {key} {fault}")

    def take(self, key: str) -> object:
        """Return a value as it is, None where there is none."""
        self.used.add(key)
        return self.values.get(key)

    def word(self, key: str, allowed: tuple[str, ...] = ()) -> str | None:
        """Return a text, one of `allowed` if that is given."""
        value = self.take(key)
        if value is None:
            return None
        choice = f"one of {', '.join(map(repr, allowed))}" if allowed else "text between quotes, on one line"
        if not isinstance(value, str) or not value.isprintable() or (allowed and value not in allowed):
            self.report(key, f"is {quoted(value)}, allowed is {choice}.")
            return None
        return value.strip()

    def number(self, key: str, low: float, high: float, unit: str) -> float | None:
        """Return a number from `low` to `high`."""
        value = self.take(key)
        if value is None:
            return None
        of_unit = f" {unit}" if unit else ""
        if not is_number(value) or not low <= float(str(value)) <= high:
            self.report(
                key,
                f"is {quoted(value)}{of_unit}, allowed is a number from {low:g} to {high:g}{of_unit}.",
            )
            return None
        return float(str(value))

    def pull(self, key: str) -> str | None:
        """Return a pull, written as text or as a whole number."""
        value = self.take(key)
        if value is None or value == "":
            return None
        name = pull_name(value)
        if name is None:
            self.report(
                key, f"is {quoted(value)}, allowed is a pull of pulls.csv, as text or as a whole number."
            )
        return name

    def names(self, key: str, what: str) -> tuple[str, ...]:
        """Return a list of pulls or regions, written as texts or whole numbers."""
        value = self.take(key)
        if value is None:
            return ()
        entries = [pull_name(entry) for entry in value] if isinstance(value, list) else [None]
        if None in entries:
            self.report(key, f"is {quoted(value)}, allowed is a list of {what} between square brackets.")
            return ()
        return tuple(dict.fromkeys(entry for entry in entries if entry is not None))

    def table(self, key: str) -> "TomlTable | None":
        """Return a table inside this one."""
        value = self.take(key)
        if value is None:
            return None
        name = f"{self.name}.{key}".lstrip(".")
        if not isinstance(value, dict):
            self.report(key, f"is {quoted(value)}, allowed is a table that begins with [{name}].")
            return None
        return TomlTable(self.file, self.text, name, value, self.problems)

    def unknown(self, known: tuple[str, ...]) -> list[str]:
        """Return a remark for each key that nobody asked for."""
        where = f" in [{self.name}]" if self.name else ""
        return [
            f"{place(self.file, line_of(self.text, self.name, key))}: {quoted(key)}{where} is not known and was not "
            f"used; known are {', '.join(known)}."
            for key in self.values
            if key not in known
        ]


def is_number(value: object) -> bool:
    """Tell whether a TOML value is a finite number; true and false are none."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return math.isfinite(value) if isinstance(value, float) else value.bit_length() <= MOST_BITS


def pull_name(value: object) -> str | None:
    """Return a name written as text or as a whole number, None for anything else.

    >>> pull_name(7), pull_name(" 7 "), pull_name(7.5)
    ('7', '7', None)
    """
    if isinstance(value, bool) or not isinstance(value, int | str):
        return None
    if isinstance(value, int) and value.bit_length() > MOST_BITS:
        return None
    return str(value).strip() or None


def top_of(file: str, text: str, problems: list[str]) -> TomlTable | None:
    """Return the top table of a TOML file; None, and a line in `problems`, where it is none."""
    try:
        values = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # ValueError also of whole numbers too long to be read
        line = re.search(r"\(at line (\d+)", str(error))
        what = str(error).split(" (at ")[0]
        problems.append(
            f"{place(file, int(line[1]) if line else None)}: not TOML ({what}). "
            "Write key = value, with text between double quotes."
        )
        return None
    return TomlTable(file, text, "", values, problems)
