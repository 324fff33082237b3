"""Read [[signed]] of edition.toml: what was frozen when the artist signed the standard."""

from dataclasses import dataclass, field
from datetime import date, datetime

from proofkit.folder.problems import quoted
from proofkit.folder.toml_table import TomlTable


@dataclass(frozen=True, slots=True)
class Signed:
    """One signature on a standard."""

    pull: str
    by: str
    """Initials."""
    on: str
    """Date, ISO 8601."""
    scan_sha256: str = ""
    """Of the scan that was looked at; empty when it is not recorded."""
    regions_sha256: str = ""
    """Of names, work and outlines of the regions."""
    recipe: dict[str, str] = field(default_factory=dict)
    """Cells of pulls.csv that say how the pull was made."""


def read_signed(top: TomlTable) -> tuple[Signed, ...]:
    """Return the signatures in the order in which they were given; the last one counts."""
    value = top.take("signed")
    if value is None:
        return ()
    if not isinstance(value, list) or not all(isinstance(entry, dict) for entry in value):
        top.report("signed", f"is {quoted(value)}, allowed are tables that each begin with [[signed]].")
        return ()
    return tuple(
        signed
        for entry in value
        if (signed := _one(TomlTable(top.file, top.text, "signed", entry, top.problems))) is not None
    )


def _one(table: TomlTable) -> Signed | None:
    pull, by = table.pull("pull"), table.word("by")
    day = table.take("on")
    if pull is None or not by or not isinstance(day, date | str):
        table.report("pull", "is not there, or by, or on; a signing takes the pull, initials and a date.")
        return None
    recipe = table.take("recipe")
    return Signed(
        pull=pull,
        by=by,
        on=day.isoformat() if isinstance(day, date | datetime) else day,
        scan_sha256=str(table.take("scan_sha256") or ""),
        regions_sha256=str(table.take("regions_sha256") or ""),
        recipe={str(key): str(cell) for key, cell in recipe.items()} if isinstance(recipe, dict) else {},
    )
