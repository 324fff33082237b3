"""Ledgers in a folder of their own, and in a database of their own."""

import os

import pytest

from proofkit.ledger.connection import close_ledger, open_ledger
from tests.postgres import Server, programs


@pytest.fixture
def ledger(tmp_path):
    """A new, empty ledger in a file."""
    ledger = open_ledger(tmp_path / "ledger.sqlite")
    yield ledger
    close_ledger(ledger)


@pytest.fixture(scope="session")
def postgres():
    """A running PostgreSQL server with nothing in it."""
    found = programs()
    if found is None:
        why = "no PostgreSQL server is installed here (Debian: apt-get install postgresql)"
        if os.environ.get("POSTGRES_WANTED"):
            pytest.fail(why)
        pytest.skip(why)
    server = Server(found)
    yield server
    server.remove()


@pytest.fixture
def database(postgres):
    """Address of an empty database on a running server."""
    return postgres.url(postgres.new_database())


@pytest.fixture(params=["file", "database"])
def any_ledger(request, tmp_path):
    """A new, empty ledger of each kind."""
    where = tmp_path / "ledger.sqlite" if request.param == "file" else request.getfixturevalue("database")
    ledger = open_ledger(where, "Harbour")
    yield ledger
    close_ledger(ledger)
