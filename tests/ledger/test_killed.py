import sqlite3
import subprocess
import sys
from pathlib import Path

from proofkit.ledger.connection import close_ledger, open_ledger
from proofkit.ledger.keys import SheetKey
from proofkit.ledger.sheets import find_sheet
from tests.ledger.results import result_of

ROOT = Path(__file__).parents[2]


def start(path, version="1"):
    command = [sys.executable, "-m", "tests.ledger.keep_saving", str(path), version]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT)


def kill_after(process, sheets):
    """Kill a saving program after so many sheets, and return the numbers that it said were kept."""
    with process:
        try:
            said = [int(process.stdout.readline()) for _ in range(sheets)]
        finally:
            process.kill()
        said += [int(line) for line in process.stdout.read().split("\n")[:-1]]
    return said


def assert_whole(path, version, said):
    with sqlite3.connect(path) as plain:
        regions = "select count(*) from proofkit_regions group by sheet_id"
        assert {count for (count,) in plain.execute(regions)} == {2}
        sheets, different = plain.execute(
            "select count(*), count(distinct key) from proofkit_sheets"
        ).fetchone()
        assert sheets == different
    plain.close()
    ledger = open_ledger(path)
    for number in said:
        found = find_sheet(ledger, SheetKey(f"{number:064d}", "b" * 64, "c" * 64, version))
        assert len(found.rows) == len(result_of(number % 5).rows)
        assert found.rows[1]["tone_fraction"] == result_of(number % 5).rows[1]["tone_fraction"]
    close_ledger(ledger)


def test_killed_in_the_middle_nothing_that_was_kept_is_lost_or_halved(tmp_path):
    path = tmp_path / "ledger.sqlite"
    for sheets in (3, 7):
        said = kill_after(start(path), sheets)
        assert len(said) >= sheets
        assert_whole(path, "1", said)


def test_two_programs_at_once_double_nothing(tmp_path):
    path = tmp_path / "ledger.sqlite"
    processes = [start(path), start(path)]
    said = [number for process in processes for number in kill_after(process, 5)]
    assert_whole(path, "1", sorted(set(said)))
