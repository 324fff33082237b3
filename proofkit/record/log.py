"""The pull log: read it, add an entry, bring in the log of another program."""

import csv
import io
from pathlib import Path

from proofkit.columns import PULL_LOG, names
from proofkit.errors import FolderError
from proofkit.folder.naming import natural_key
from proofkit.folder.problems import place, quoted
from proofkit.folder.pulls import LONGEST_NAME
from proofkit.folder.rows import Row, read_rows
from proofkit.folder.writing import write_text
from proofkit.record.log_cells import cell_fault, row_faults, tidy

LOG_FILE = "pull_log.csv"
COLUMNS = tuple(names(PULL_LOG))

Entry = dict[str, str]
"""Column -> cell, empty cells left out; `pull` is always there."""


def read_log(folder: Path) -> tuple[Entry, ...]:
    """Return the entries of pull_log.csv in order of printing; none where there is no such file.

    Raises
    ------
    FolderError
        If anything in it is not as it should be: one line each.
    """
    path = folder / LOG_FILE
    if not path.is_file():
        return ()
    problems: list[str] = []
    rows = read_rows(path, ("pull",), problems)
    entries = _entries(rows, path.name, problems)
    problems.extend(f"{path.name}: {cell_fault(name, '')}" for name in _foreign(rows))
    if problems:
        raise FolderError("\n".join(problems))
    return tuple(sorted(entries, key=lambda entry: natural_key(entry["pull"])))


def _foreign(rows: list[Row]) -> list[str]:
    """Return the columns that the log does not know."""
    return sorted({name for row in rows for name in row.cells} - set(COLUMNS))


def _entries(rows: list[Row], file: str, problems: list[str]) -> list[Entry]:
    first: dict[str, int] = {}
    for row in rows:
        pull = row.cells.get("pull", "")
        line = first.setdefault(pull, row.line)
        if line != row.line:
            problems.append(
                f"{place(file, row.line)}: pull {quoted(pull)} stands in line {line} already. "
                "A pull's number is never used again."
            )
    return [entry for row in rows if (entry := _entry(row, file, problems)) is not None]


def _entry(row: Row, file: str, problems: list[str]) -> Entry | None:
    known = {name: cell for name, cell in row.cells.items() if name in COLUMNS and cell}
    faults = entry_faults(known)
    problems.extend(f"{place(file, row.line)}: {fault}" for fault in faults)
    return None if faults else {name: tidy(name, cell) for name, cell in known.items()}


def entry_faults(cells: Entry) -> list[str]:
    """Return everything that is wrong with an entry."""
    pull = cells.get("pull", "")
    faults = []
    if not pull:
        faults.append(
            "pull is missing; every pull has a number, in order of printing. Give it, such as pull=12."
        )
    elif len(pull) > LONGEST_NAME:
        faults.append(
            f"pull {quoted(pull)} is no number; every pull has one, in order of printing. Give it its own."
        )
    faults += [fault for name, cell in cells.items() if (fault := cell_fault(name, cell)) is not None]
    return faults or row_faults({name: tidy(name, cell) for name, cell in cells.items()})


def write_log(folder: Path, entries: tuple[Entry, ...]) -> Path:
    """Write pull_log.csv in one step, in order of printing.

    Raises
    ------
    FolderError
        If it cannot be written.
    """
    text = io.StringIO(newline="")
    table = csv.writer(text, lineterminator="\n")
    table.writerow(COLUMNS)
    for entry in sorted(entries, key=lambda one: natural_key(one["pull"])):
        table.writerow([entry.get(name, "") for name in COLUMNS])
    return write_text(folder / LOG_FILE, text.getvalue())


def enter(folder: Path, cells: Entry) -> Entry:
    """Add an entry to the pull log, or fill cells of the one that is there, and write it.

    A cell that is given empty is emptied.

    Returns
    -------
    Entry
        As it stands in the log now.

    Raises
    ------
    FolderError
        If a cell is not as it should be (one line each), or the log cannot be read or written.
    """
    entries = {entry["pull"]: entry for entry in read_log(folder)}
    pull = cells.get("pull", "").strip()
    before = entries.get(pull, {})
    joined = {**before, **{name: cell.strip() for name, cell in cells.items()}}
    kept = {name: cell for name, cell in joined.items() if cell}
    faults = entry_faults(kept)
    if faults:
        whose = f"Entry of pull {quoted(pull)}" if pull else "Entry"
        raise FolderError("\n".join(f"{whose}: {fault}" for fault in faults))
    entries[pull] = {name: tidy(name, cell) for name, cell in kept.items()}
    write_log(folder, tuple(entries.values()))
    return entries[pull]


def bring_in(folder: Path, file: Path) -> tuple[int, tuple[str, ...]]:
    """Add the entries of another log file to the pull log; nothing that is written there is replaced.

    Parameters
    ----------
    folder : Path
        The edition.
    file : Path
        CSV with columns as pull_log.csv; those that the log does not know are left out.

    Returns
    -------
    added : int
        How many entries were added or filled up.
    remarks : tuple of str
        Columns that were left out, and cells that say otherwise than the log.

    Raises
    ------
    FolderError
        If a row cannot be used (one line each); then nothing is brought in.
    """
    if not file.is_file():
        raise FolderError(f"{quoted(file)} is not there. Give a CSV file with a column pull.")
    problems: list[str] = []
    rows = read_rows(file, ("pull",), problems)
    fresh = _entries(rows, file.name, problems)
    if problems:
        raise FolderError("\n".join(problems))
    entries = {entry["pull"]: dict(entry) for entry in read_log(folder)}
    remarks = [
        f"{file.name}: column {quoted(name)} is not known and was left out." for name in _foreign(rows)
    ]
    added = 0
    for entry in fresh:
        here = entries.setdefault(entry["pull"], {"pull": entry["pull"]})
        added += _fill(here, entry, file.name, remarks)
    faults = [
        f"Pull {quoted(e['pull'])} with {file.name}: {f}" for e in entries.values() for f in row_faults(e)
    ]
    if faults:
        raise FolderError("\n".join(faults))
    write_log(folder, tuple(entries.values()))
    return added, tuple(remarks)


def _fill(here: Entry, entry: Entry, file: str, remarks: list[str]) -> bool:
    """Fill empty cells of `here`; say which others differ. Tell whether anything was filled."""
    before = len(here)
    for name, cell in entry.items():
        if here.setdefault(name, cell) != cell:
            remarks.append(
                f"Pull {quoted(entry['pull'])}: {name} is {quoted(here[name])} in {LOG_FILE} and {quoted(cell)} in "
                f"{file}; the log was left as it is."
            )
    return len(here) > before
