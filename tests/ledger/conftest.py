"""Ledgers in a folder of their own."""

import pytest

from proofkit.ledger.connection import close_ledger, open_ledger


@pytest.fixture
def ledger(tmp_path):
    """A new, empty ledger."""
    ledger = open_ledger(tmp_path / "ledger.sqlite")
    yield ledger
    close_ledger(ledger)
