"""Save one sheet after the other into the ledger named on the command line until killed; say each that is kept."""

import sys

from proofkit.ledger.connection import open_ledger
from proofkit.ledger.keys import SheetKey
from proofkit.ledger.sheets import save_sheet
from tests.ledger.results import result_of

if __name__ == "__main__":
    ledger = open_ledger(sys.argv[1])
    for number in range(100_000):
        save_sheet(ledger, SheetKey(f"{number:064d}", "b" * 64, "c" * 64, sys.argv[2]), result_of(number % 5))
        sys.stdout.write(f"{number}\n")
        sys.stdout.flush()
