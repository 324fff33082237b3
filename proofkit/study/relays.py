"""Read relays.csv: which scans show the same sheet laid down again, when and by whom."""

from collections import Counter
from dataclasses import dataclass

from proofkit.errors import FolderError
from proofkit.folder.edition import Edition
from proofkit.folder.naming import inside_path
from proofkit.folder.problems import place, quoted
from proofkit.folder.rows import Row, read_rows

RELAYS_FILE = "relays.csv"
REQUIRED = ("pull", "scan")
LONGEST_LABEL = 40
"""Characters in the name of a day or an operator."""

HOW = (
    f"Write {RELAYS_FILE} with the columns pull, scan and, where there are any, day and operator (initials): one row "
    "for each time that a sheet was laid down, for example 3,relays/3_b.tif,2,ab"
)


@dataclass(frozen=True, slots=True)
class Relay:
    """One laying-down of a sheet."""

    pull: str
    scan: str
    """Relative to scans/ or to the edition."""
    day: str = ""
    operator: str = ""
    """Initials, empty where not told."""


def read_relays(edition: Edition) -> tuple[Relay, ...]:
    """Return the rows of relays.csv in their order.

    Raises
    ------
    FolderError
        If there is no such file, or anything in it is not as it should be: one line each.
    """
    path = edition.folder / RELAYS_FILE
    if not path.is_file():
        raise FolderError(f"{quoted(edition.folder)} has no {RELAYS_FILE}. {HOW}.")
    problems: list[str] = []
    rows = read_rows(path, REQUIRED, problems)
    known = {pull.pull for pull in edition.pulls}
    relays = [relay for row in rows if (relay := _relay(row, edition, known, problems)) is not None]
    if not problems:
        problems += [*_twice(relays, rows), *_half_told(relays, rows), *_too_few(relays)]
    if problems:
        raise FolderError("\n".join(problems))
    return tuple(relays)


def _relay(row: Row, edition: Edition, known: set[str], problems: list[str]) -> Relay | None:
    where = place(RELAYS_FILE, row.line)
    pull, written = row.cells.get("pull", ""), row.cells.get("scan", "")
    before = len(problems)
    if pull not in known:
        problems.append(
            f"{where}: pull {quoted(pull)} is not in pulls.csv. Give the number of the sheet there."
        )
    scan = inside_path(written, edition.folder) if written.isprintable() and written else None
    if scan is None:
        problems.append(
            f"{where}: scan {quoted(written)} is no file of the edition; allowed is a name inside its folder. "
            "Put the file there, for example into relays/."
        )
    labels = {name: row.cells.get(name, "") for name in ("day", "operator")}
    problems.extend(
        f"{where}: {name} {quoted(label)} is too long, allowed are {LONGEST_LABEL} characters on one line."
        for name, label in labels.items()
        if len(label) > LONGEST_LABEL or not label.isprintable()
    )
    return None if scan is None or len(problems) > before else Relay(pull, scan, **labels)


def _twice(relays: list[Relay], rows: list[Row]) -> list[str]:
    first: dict[str, int] = {}
    problems = []
    for relay, row in zip(relays, rows, strict=True):
        line = first.setdefault(relay.scan, row.line)
        if line != row.line:
            problems.append(
                f"{place(RELAYS_FILE, row.line)}: scan {quoted(relay.scan)} stands in line {line} already. "
                "Each laying-down is a scan of its own."
            )
    return problems


def _half_told(relays: list[Relay], rows: list[Row]) -> list[str]:
    """Return a line for a level that only some rows name: it has no groups."""
    problems = []
    for name in ("day", "operator"):
        empty = [row.line for relay, row in zip(relays, rows, strict=True) if not getattr(relay, name)]
        if empty and len(empty) < len(relays):
            problems.append(
                f"{place(RELAYS_FILE, empty[0])}: {name} is empty here and filled elsewhere. "
                "Fill it everywhere or nowhere."
            )
    return problems


def _too_few(relays: list[Relay]) -> list[str]:
    counts = Counter(relay.pull for relay in relays)
    if any(count > 1 for count in counts.values()):
        return []
    scans = "1 scan" if len(relays) == 1 else f"{len(relays)} scans"
    return [
        f"{RELAYS_FILE} names {scans} and no sheet twice; a sheet has to be laid down at least twice, better five "
        f"times or more. {HOW}."
    ]
