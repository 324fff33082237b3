"""Fill a ledger with sheets of many editions, and time what a check asks of it."""

import time
from pathlib import Path
from statistics import median

import sqlalchemy

from proofkit.columns import MEASURES, names
from proofkit.ledger.connection import close_ledger, open_ledger, transaction
from proofkit.ledger.keys import SheetKey
from proofkit.ledger.pulls import kept_measurements, note_pulls
from proofkit.ledger.sheets import find_sheets, save_sheet
from tests.ledger.results import result_of

PULLS = 30
REGIONS = 12
ASKED = 9


def a_result(number):
    """Return a result of twelve regions in which every measure has a value and an uncertainty."""
    from dataclasses import replace

    result = result_of(number % 5)
    row = {name: 0.1 * number + place for place, name in enumerate(names(MEASURES))}
    row |= {f"u_{name}": 0.01 for name in names(MEASURES)}
    rows = [{**row, "region": f"field {region}", "work": "lines", "quality": ""} for region in range(REGIONS)]
    histograms = {f"field {region}": list(range(270)) for region in range(REGIONS)}
    return replace(result, rows=rows, histograms=histograms)


def key(edition, pull):
    return SheetKey(f"{edition:032d}{pull:032d}", "b" * 64, "c" * 64, "1")


def question_times(where, sizes, name):
    """Return a row of times for each number of editions; the ledger grows from one to the next."""
    rows = []
    made = 0
    for editions in sizes:
        for edition in range(made, editions):
            _add_edition(where, edition)
        made = editions
        rows.append((name, editions, editions * PULLS, *_times(where, editions)))
    return rows


def _add_edition(where, edition):
    ledger = open_ledger(where, f"edition {edition}")
    for pull in range(PULLS):
        save_sheet(ledger, key(edition, pull), a_result(pull))
    note_pulls(ledger, {str(pull): (f"{pull}.tif", key(edition, pull)) for pull in range(PULLS)})
    close_ledger(ledger)


def _times(where, editions):
    """Return size and milliseconds of opening, keeping a sheet, and three questions."""
    spent = {"open": [], "keep": [], "find": [], "edition": [], "pull": []}

    def timed(what, work):
        began = time.perf_counter()
        work()
        spent[what].append(1000 * (time.perf_counter() - began))

    for turn in range(ASKED):
        edition = turn * (editions - 1) // max(ASKED - 1, 1)
        title = f"edition {edition}"
        opened = []
        timed("open", lambda: opened.append(open_ledger(where, title)))  # noqa: B023  called at once
        ledger = opened[0]
        fresh = key(10**6 + editions, turn)
        timed("keep", lambda: save_sheet(ledger, fresh, a_result(turn)))  # noqa: B023
        keys = [key(edition, pull) for pull in range(PULLS)]
        timed("find", lambda: find_sheets(ledger, keys))  # noqa: B023
        timed("edition", lambda: kept_measurements(ledger, title))  # noqa: B023
        timed("pull", lambda: kept_measurements(ledger, title, "7"))  # noqa: B023
        megabytes = _size(ledger, where)
        close_ledger(ledger)
    return (megabytes, 1000 * megabytes / (editions * PULLS), *(median(values) for values in spent.values()))


def _size(ledger, where):
    if ledger.engine.dialect.name == "sqlite":
        return sum(path.stat().st_size for path in Path(where).parent.glob(f"{Path(where).name}*")) / 1e6
    asked = sqlalchemy.text("select pg_database_size(current_database())")
    return transaction(ledger, lambda session: float(session.scalar(asked))) / 1e6
