"""CSV text to rows with their line numbers, whatever program wrote it."""

import csv
import io
from dataclasses import dataclass
from pathlib import Path

from proofkit.folder.problems import place, quoted, read_text

LARGEST_CELL = 16_000_000
"""Characters in one cell; a finely drawn outline can be longer than the csv module's own limit."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a CSV file."""

    line: int
    """Line where the row begins, the header being line 1."""
    cells: dict[str, str]
    """Column name in lower case -> text without blanks around it."""


def separator(header: str) -> str:
    """Return the character between cells of a header line: semicolon where there are more of them than commas.

    >>> separator("pull;scan;note")
    ';'
    """
    return ";" if header.count(";") > header.count(",") else ","


def read_rows(path: Path, required: tuple[str, ...], problems: list[str]) -> list[Row]:
    """Return the rows of a CSV file; blank rows are left out.

    Parameters
    ----------
    path : Path
        Comma or semicolon between cells, UTF-8 with or without byte order mark, any line ends.
    required : tuple of str
        Columns that must be there.
    problems : list of str
        Receives one line for each thing that is wrong.
    """
    text = read_text(path, problems)
    if not text.strip():
        if not problems:
            allowed = f"a header row with {', '.join(required)}" if required else "a header row"
            problems.append(f"{path.name} is empty, allowed is {allowed} and a row for each entry.")
        return []
    csv.field_size_limit(LARGEST_CELL)
    reader = csv.reader(
        io.StringIO(text, newline=""), delimiter=separator(text.lstrip().splitlines()[0]), strict=True
    )
    rows: list[Row] = []
    header: list[str] | None = None
    begin = 1
    try:
        for cells in reader:
            stripped = [cell.strip() for cell in cells]
            if any(stripped):
                if header is None:
                    header = _header(path.name, begin, stripped, required, problems)
                    if not header:
                        return []
                else:
                    rows.extend(_row(path.name, begin, header, stripped, problems))
            begin = reader.line_num + 1
    except csv.Error as error:
        problems.append(
            f"{place(path.name, begin)}: the row cannot be read ({error}). Check its quotation marks."
        )
    return rows


def _header(
    name: str, line: int, cells: list[str], required: tuple[str, ...], problems: list[str]
) -> list[str]:
    header = [cell.lower() for cell in cells]
    while header and not header[-1]:
        header.pop()
    twice = sorted({column for column in header if column and header.count(column) > 1})
    missing = [column for column in required if column not in header]
    if missing:
        problems.append(
            f"{place(name, line)}: the header has no column {' and no column '.join(missing)}, but "
            f"{quoted(', '.join(header))}. Put column names in the first row."
        )
    if twice:
        problems.append(
            f"{place(name, line)}: column {', '.join(twice)} stands twice. Give each column its own name."
        )
    return [] if missing or twice else header


def _row(name: str, line: int, header: list[str], cells: list[str], problems: list[str]) -> list[Row]:
    if any(cells[len(header) :]):
        problems.append(
            f"{place(name, line)}: {len(cells)} cells, but the header names {len(header)} columns. "
            "Put a cell that holds the separator between double quotes."
        )
        return []
    return [Row(line, {column: cell for column, cell in zip(header, cells, strict=False) if column})]
