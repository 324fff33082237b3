"""Fill a ledger with sheets of many editions, and time what a check asks of it."""

import time
from pathlib import Path
from statistics import median

import sqlalchemy
from sqlalchemy import insert, literal, select

from proofkit.columns import MEASURES, names
from proofkit.ledger.connection import close_ledger, open_ledger, transaction
from proofkit.ledger.keys import SheetKey
from proofkit.ledger.models import MeasureRecord, PullRecord, RegionRecord, SheetRecord
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
    _first_edition(where)
    made = 1
    for editions in sizes:
        _more_editions(where, range(made, editions))
        made = max(made, editions)
        rows.append((name, editions, editions * PULLS, *_times(where, editions)))
    return rows


def _first_edition(where):
    ledger = open_ledger(where, "edition 0")
    for pull in range(PULLS):
        save_sheet(ledger, key(0, pull), a_result(pull))
    note_pulls(ledger, {str(pull): (f"{pull}.tif", key(0, pull)) for pull in range(PULLS)})
    close_ledger(ledger)


def _more_editions(where, editions):
    """Add copies of the first edition under other keys and names, by the database itself: that is much faster."""
    ledger = open_ledger(where)
    sheets, regions, measures = (kind.__table__ for kind in (SheetRecord, RegionRecord, MeasureRecord))

    def add(edition):
        def work(session):
            for pull in range(PULLS):
                old = select(*sheets.c).where(sheets.c.key == key(0, pull).digest)
                row = {k: v for k, v in session.execute(old).mappings().one().items() if k != "id"}
                first = session.scalar(select(sheets.c.id).where(sheets.c.key == key(0, pull).digest))
                new = session.execute(
                    insert(sheets), {**row, "key": key(edition, pull).digest}
                ).inserted_primary_key[0]
                for kind in (regions, measures):
                    others = [column for column in kind.c if column.name != "sheet_id"]
                    copied = select(literal(new), *others).where(kind.c.sheet_id == first)
                    names_there = ["sheet_id", *(column.name for column in others)]
                    session.execute(insert(kind).from_select(names_there, copied))
                pull_row = {
                    "edition": f"edition {edition}",
                    "pull": str(pull),
                    "position": pull,
                    "scan": f"{pull}.tif",
                }
                session.execute(insert(PullRecord.__table__), {**pull_row, "sheet_id": new})

        return work

    for edition in editions:
        transaction(ledger, add(edition))
    if ledger.engine.dialect.name == "postgresql":
        transaction(ledger, lambda session: session.execute(sqlalchemy.text("analyze")))
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
