"""The ledger in a database that several machines share, on a real server."""

import subprocess
import sys
import threading
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import select

from proofkit.errors import LedgerError
from proofkit.ledger.connection import close_ledger, open_ledger, transaction
from proofkit.ledger.decisions import add_decision, decisions
from proofkit.ledger.keys import SheetKey
from proofkit.ledger.models import SheetRecord
from proofkit.ledger.notes import file_sha256, save_plate_size
from proofkit.ledger.sheets import find_sheet, save_sheet
from tests.ledger.results import key_of, result_of

ROOT = Path(__file__).parents[2]
HOUR_S = 3600.0


@pytest.fixture
def shared(database):
    """A ledger in a database."""
    ledger = open_ledger(database, "Harbour")
    yield ledger
    close_ledger(ledger)


def counts(postgres, database):
    with postgres.connect(database.rsplit("/", 1)[1]) as plain:
        return tuple(
            plain.execute(f"select count(*) from proofkit_{table}").fetchone()[0]  # noqa: S608 (names of our own)
            for table in ("sheets", "regions", "measures")
        )


def test_what_one_machine_keeps_another_one_finds(shared, database):
    save_sheet(shared, key_of(), result_of(3))
    other = open_ledger(database, "Mill")
    assert find_sheet(other, key_of()).rows[0]["tone_fraction"] == result_of(3).rows[0]["tone_fraction"]
    close_ledger(other)


def test_the_database_may_hold_tables_of_others(postgres, database):
    with postgres.connect(database.rsplit("/", 1)[1]) as plain:
        plain.execute("create table invoices (id integer)")
    close_ledger(open_ledger(database))
    with postgres.connect(database.rsplit("/", 1)[1]) as plain:
        plain.execute("select * from invoices")


@pytest.mark.parametrize("statement", ["update {} set by = 'x'", "delete from {}", "truncate {}"])
def test_no_program_can_change_a_decision(postgres, shared, database, statement):
    add_decision(shared, "3", "spoiled", reason="torn", by="A")
    with (
        postgres.connect(database.rsplit("/", 1)[1]) as plain,
        pytest.raises(psycopg.Error, match="only ever added"),
    ):
        plain.execute(statement.format("proofkit_decisions"))
    assert decisions(shared)["decision"].tolist() == ["spoiled"]


def test_many_programs_may_make_the_tables_at_once(database):
    ledgers = []
    threads = [threading.Thread(target=lambda: ledgers.append(open_ledger(database))) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(ledgers) == 6
    for ledger in ledgers:
        close_ledger(ledger)


def test_two_programs_at_once_double_nothing(postgres, database):
    command = [sys.executable, "-m", "tests.ledger.keep_saving", database, "1"]
    processes = [subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) for _ in range(2)]
    said = []
    for process in processes:
        with process:
            said += [int(process.stdout.readline()) for _ in range(5)]
            process.kill()
            said += [int(line) for line in process.stdout.read().split("\n")[:-1]]
    sheets, regions, _ = counts(postgres, database)
    assert regions == 2 * sheets  # nothing is half written
    with postgres.connect(database.rsplit("/", 1)[1]) as plain:
        assert plain.execute("select count(distinct key) from proofkit_sheets").fetchone() == (sheets,)
    ledger = open_ledger(database)
    for number in set(said):
        assert find_sheet(ledger, SheetKey(f"{number:064d}", "b" * 64, "c" * 64, "1")) is not None
    close_ledger(ledger)


def test_notes_that_two_write_at_once_are_kept_once(shared):
    threads = [
        threading.Thread(target=save_plate_size, args=(shared, "a" * 64, 148.0, 105.0)) for _ in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def test_a_server_that_was_restarted_is_found_again(postgres, shared):
    save_sheet(shared, key_of("a"), result_of())
    postgres.stop()
    postgres.start()
    assert find_sheet(shared, key_of("a")) is not None
    assert save_sheet(shared, key_of("b"), result_of())


def test_a_server_that_is_away_is_waited_for(postgres, shared):
    postgres.stop()
    answers = []
    saving = threading.Thread(target=lambda: answers.append(save_sheet(shared, key_of(), result_of())))
    saving.start()
    postgres.start()
    saving.join()
    assert answers == [True]


def test_a_server_that_stops_in_the_middle_leaves_nothing_half_written(postgres, shared, database):
    attempts = []

    def work(session):
        attempts.append(1)
        session.add(
            SheetRecord(
                key=f"{len(attempts)}", scan_sha256="", setup_sha256="", standard_sha256="", version="",
                measured_at="", sheet="", scalars="", arrays=b"",
            )
        )  # fmt: skip
        session.flush()
        if len(attempts) == 1:
            postgres.stop()
            postgres.start()
        return list(session.scalars(select(SheetRecord.key)))

    assert transaction(shared, work) == ["2"]
    assert counts(postgres, database)[0] == 1


def test_a_server_that_stays_away_is_told_in_one_line(postgres, database, tmp_path):
    ledger = open_ledger(database, patience_s=0.5)
    postgres.stop()
    try:
        with pytest.raises(LedgerError, match="was away") as caught:
            save_sheet(ledger, key_of(), result_of())
        with pytest.raises(LedgerError, match="was away"):
            open_ledger(database, patience_s=0.5)
    finally:
        postgres.start()
        close_ledger(ledger)
    assert "\n" not in str(caught.value)
    assert postgres.password not in str(caught.value)
    assert counts(postgres, database) == (0, 0, 0)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda url: url.replace("printer:", "stranger:"), "user and password"),
        (lambda url: f"{url}_nowhere", "does not exist"),
    ],
)
def test_a_server_that_declines_is_not_waited_for(postgres, database, change, told):
    with pytest.raises(LedgerError, match=told) as caught:
        open_ledger(change(database), patience_s=HOUR_S)
    assert "\n" not in str(caught.value)
    assert postgres.password not in str(caught.value)


def test_who_may_not_make_tables_is_told(postgres, database):
    name = database.rsplit("/", 1)[1]
    with postgres.connect(name) as plain:
        plain.execute("revoke create on schema public from public")
        plain.execute(f"create role guest login password '{postgres.password}'")
    try:
        with pytest.raises(LedgerError, match="right to make and write tables"):
            open_ledger(database.replace("printer:", "guest:"))
    finally:
        with postgres.connect(name) as plain:
            plain.execute("drop role guest")


def test_hashes_of_files_are_kept_too(shared, tmp_path):
    (tmp_path / "a.tif").write_bytes(b"abc")
    assert file_sha256(shared, tmp_path / "a.tif") == file_sha256(shared, tmp_path / "a.tif")
