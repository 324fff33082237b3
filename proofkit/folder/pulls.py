"""Read pulls.csv: which scan shows which pull, in order of printing."""

import re
from pathlib import Path

import numpy as np

from proofkit.arrays import Points
from proofkit.folder.edition import TURNED, Pull
from proofkit.folder.naming import inside_path, is_address, list_scans, natural_key, pull_names
from proofkit.folder.problems import place, quoted
from proofkit.folder.rows import Row, read_rows

PULLS_FILE = "pulls.csv"
REQUIRED = ("pull", "scan")
LONGEST_NAME = 80
"""Characters in the name of a pull or region: it has to fit into tables and captions."""


def read_pulls(folder: Path, problems: list[str], remarks: list[str]) -> tuple[Pull, ...]:
    """Return the pulls of an edition folder in order of printing.

    The order is that of the rows, or that of the numbers where every pull is a whole number. Without pulls.csv
    each scan is one pull. A scan that is named but not there is no problem of the folder: it costs that pull only.
    """
    path = folder / PULLS_FILE
    if not path.is_file():
        return _pulls_of_scans(folder, problems, remarks)
    before = len(problems)
    rows = read_rows(path, REQUIRED, problems)
    if not rows and len(problems) == before:
        problems.append(f"{PULLS_FILE} names no pull. Write one row for each scan.")
    pulls = [pull for row in rows if (pull := _pull(row, folder, problems)) is not None]
    _check_unique(rows, folder, problems)
    return _in_order(pulls, remarks)


def _pulls_of_scans(folder: Path, problems: list[str], remarks: list[str]) -> tuple[Pull, ...]:
    scans = list_scans(folder)
    unclear = [scan for scan in scans if not scan.isprintable()]
    problems.extend(
        f"{quoted(scan)} has a sign in its name that cannot be shown. Rename it." for scan in unclear
    )
    if not scans:
        problems.append(
            f"{quoted(folder.name)} has no {PULLS_FILE} and no scans. "
            "Put TIFF, PNG or JPEG files into its folder scans."
        )
        return ()
    remarks.append(f"There is no {PULLS_FILE}: each scan was taken for one pull, in order of file names.")
    return tuple(Pull(pull, scan) for pull, scan in zip(pull_names(scans), scans, strict=True))


def _pull(row: Row, folder: Path, problems: list[str]) -> Pull | None:
    where = place(PULLS_FILE, row.line)
    name, written = row.cells.get("pull", ""), row.cells.get("scan", "")
    before = len(problems)
    if not name:
        problems.append(
            f"{where}: the cell pull is empty. Give every impression its number in order of printing."
        )
    elif len(name) > LONGEST_NAME or not name.isprintable():
        problems.append(
            f"{where}: pull {quoted(name)} is no name; allowed is one line of up to {LONGEST_NAME} characters."
        )
    scan = _scan(written, folder)
    if not written:
        problems.append(f"{where}: the cell scan is empty. Write the file name of the scan.")
    elif not written.isprintable():
        problems.append(f"{where}: scan {quoted(written)} has a sign that cannot be shown. Rename the file.")
    elif scan is None:
        problems.append(f"{where}: scan {quoted(written)} leads out of the edition. Put the file into scans.")
    corners = _corners(row.cells.get("corners", ""), where, problems)
    bed = row.cells.get("bed", "")
    if bed.casefold() not in ("", TURNED):
        problems.append(
            f"{where}: bed {quoted(bed)} is not known; allowed is {TURNED} (the plate lay end for end on the bed), or "
            "nothing when it lay as usual."
        )
    if scan is None or len(problems) > before:
        return None
    notes = {key: cell for key, cell in row.cells.items() if cell and key not in ("pull", "scan", "corners")}
    return Pull(name, scan, notes, corners)


def _scan(written: str, folder: Path) -> str | None:
    """Return a scan as named: an address as it is, a path relative to scans/ or the edition, None for neither."""
    if is_address(written):
        return written
    return inside_path(written, folder) if written else None


def _corners(text: str, where: str, problems: list[str]) -> Points | None:
    """Return four corners written as ``x y x y x y x y`` in scan pixels, clockwise from the top left."""
    if not text:
        return None
    words = [word for word in re.split(r"[\s,;]+", text) if word]
    try:
        numbers = np.array([float(word) for word in words])
    except ValueError:
        numbers = np.array([])
    if len(numbers) != 8 or not np.isfinite(numbers).all():
        problems.append(
            f"{where}: corners {quoted(text)} has {len(words)} parts; allowed are eight numbers, x and y in px of the "
            "four corners of the plate mark clockwise from the top left as the print is seen, with points for decimals."
        )
        return None
    corners = numbers.reshape(4, 2)
    sides = np.roll(corners, -1, axis=0) - corners
    following = np.roll(sides, -1, axis=0)
    turns = sides[:, 0] * following[:, 1] - sides[:, 1] * following[:, 0]
    if not (np.all(turns > 0) or np.all(turns < 0)):
        problems.append(
            f"{where}: corners {quoted(text)} make no four-sided plate. Give them clockwise, from the top left."
        )
        return None
    return corners


def _check_unique(rows: list[Row], folder: Path, problems: list[str]) -> None:
    """Report pulls and scans that stand in two rows."""
    seen: dict[tuple[str, str], int] = {}
    for row in rows:
        name, scan = row.cells.get("pull", ""), row.cells.get("scan", "")
        for kind, value, key in (("pull", name, name), ("scan", scan, inside_path(scan, folder) or scan)):
            first = seen.setdefault((kind, key), row.line)
            if value and first != row.line:
                problems.append(
                    f"{place(PULLS_FILE, row.line)}: {kind} {quoted(value)} stands in line {first} already. "
                    "Keep one row for each impression."
                )


def _in_order(pulls: list[Pull], remarks: list[str]) -> tuple[Pull, ...]:
    if not all(re.fullmatch(r"[0-9]+", pull.pull) for pull in pulls):
        return tuple(pulls)
    ordered = sorted(pulls, key=lambda pull: natural_key(pull.pull))
    if ordered != pulls:
        remarks.append(
            f"The rows of {PULLS_FILE} were put in order of the pull numbers, as order of printing."
        )
    return tuple(ordered)
