"""Read [wishes] of edition.toml: what the artist wants of each region, in words or as numbers."""

import itertools
from dataclasses import dataclass

from proofkit.columns import MEASURES, names
from proofkit.folder.problems import quoted
from proofkit.folder.toml_table import TomlTable, is_number

WISH_KEYS = ("want", "weight", "measure", "low", "best", "high", "strictness")

WEIGHT = (0.1, 10.0)
"""Weights that are believed: a wish that counts less than a hundredth of another is none. [-]"""

STRICTNESS = (0.1, 10.0)
"""Exponents that Derringer and Suich draw. [-]"""


@dataclass(frozen=True, slots=True)
class Wish:
    """What the artist wants of one region."""

    region: str
    want: str
    """In the words of the list, such as `clean`; empty when numbers are given."""
    weight: float = 1.0
    """How much it counts against the other wishes. [-]"""
    measure: str = ""
    """Column of `measurements`, when numbers are given."""
    low: float | None = None
    """Not granted from here down; None = the lower the better. [as the measure]"""
    best: float | None = None
    """Wholly granted here. [as the measure]"""
    high: float | None = None
    """Not granted from here up; None = the higher the better. [as the measure]"""
    strictness: float = 1.0
    """Exponent: above 1 a wish half met is granted less than half. [-]"""


def read_wishes(table: TomlTable | None) -> tuple[Wish, ...]:
    """Return the wishes of ``[wishes]``: for each region a word, a table or a list of them."""
    if table is None:
        return ()
    found: list[Wish] = []
    for region, value in table.values.items():
        entries = value if isinstance(value, list) else [value]
        for entry in entries:
            wish = _wish(table, region, entry)
            if wish is not None:
                found.append(wish)
    return tuple(found)


def _wish(table: TomlTable, region: str, entry: object) -> Wish | None:
    if isinstance(entry, str) and entry.strip() and entry.isprintable():
        return Wish(region, entry.strip())
    if not isinstance(entry, dict):
        table.report(
            region,
            f"is {quoted(entry)}, allowed is a wish in words such as 'clean', a table such as {{ want = \"clean\", "
            "weight = 2 }, or a list of them.",
        )
        return None
    inner = TomlTable(table.file, table.text, table.name, entry, table.problems)
    before = len(table.problems)
    for key in entry:
        if key not in WISH_KEYS:
            table.report(
                region, f"has the key {quoted(key)}, which no wish has; allowed are {', '.join(WISH_KEYS)}."
            )
    weight = _number(inner, region, "weight", WEIGHT)
    strictness = _number(inner, region, "strictness", STRICTNESS)
    want = inner.word("want") or ""
    measure = inner.word("measure", tuple(names(MEASURES))) or ""
    low, best, high = (_limit(inner, region, key) for key in ("low", "best", "high"))
    if len(table.problems) == before:
        fault = _shape_fault(want, measure, low, best, high)
        if fault:
            table.report(region, fault)
    if len(table.problems) > before:
        return None
    return Wish(
        region,
        want,
        1.0 if weight is None else weight,
        measure,
        low,
        best,
        high,
        1.0 if strictness is None else strictness,
    )


def _number(inner: TomlTable, region: str, key: str, allowed: tuple[float, float]) -> float | None:
    value = inner.take(key)
    if value is None:
        return None
    if not is_number(value) or not allowed[0] <= float(str(value)) <= allowed[1]:
        inner.report(
            region,
            f"has {key} {quoted(value)}, allowed is a number from {allowed[0]:g} to {allowed[1]:g}.",
        )
        return None
    return float(str(value))


def _limit(inner: TomlTable, region: str, key: str) -> float | None:
    value = inner.take(key)
    if value is None:
        return None
    if not is_number(value):
        inner.report(region, f"has {key} {quoted(value)}, allowed is a number in the unit of the measure.")
        return None
    return float(str(value))


def _shape_fault(want: str, measure: str, low: float | None, best: float | None, high: float | None) -> str:
    """Return what is wrong with a wish as a whole, empty when nothing is."""
    limits = [limit for limit in (low, best, high) if limit is not None]
    if want and (measure or limits):
        return "has words and numbers; allowed is want alone, or measure with best and low or high."
    if want:
        return ""
    if not measure or best is None or len(limits) < 2:
        return (
            "says too little; allowed is want, or measure with best and low (wanted higher), best and high (wanted "
            "lower), or all three (wanted there)."
        )
    if any(second <= first for first, second in itertools.pairwise(limits)):
        shown = ", ".join(f"{limit:g}" for limit in limits)
        return f"has limits {shown}, allowed are low under best under high. Put them in order."
    return ""
