"""Run a check for the panel: progress as it comes, and every end leaves the panel usable."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from proofkit.check import CheckResult, check
from proofkit.errors import ProofkitError
from proofkit.widgets.state import AS_WRITTEN, start_check, stop_check, take_result
from proofkit.widgets.store import CheckStore

NOTHING_OPEN = "No edition is open. Give the folder of an edition."
BROKE_OFF = "The check broke off; sheets that were measured are kept. Run it again."


@dataclass(frozen=True, slots=True)
class Places:
    """Where a check writes; None means inside the edition."""

    out: Path | None = None
    ledger_url: str | None = None


def run_check(store: CheckStore, places: Places, tell: Callable[[str, int, int], None]) -> CheckResult | None:
    """Check the open edition and show what was found.

    Returns
    -------
    CheckResult or None
        None when the notice says why nothing could be done.
    """
    state = store.state
    if state.folder is None:
        store.run(stop_check, NOTHING_OPEN)
        return None
    store.run(start_check)
    notice = BROKE_OFF
    result = None
    try:
        result = check(
            state.folder,
            out=places.out,
            ledger_url=places.ledger_url,
            standard=None if state.standard == AS_WRITTEN else state.standard,
            progress=tell,
        )
    except ProofkitError as error:
        notice = str(error)
    finally:
        # Also reached by a fault of the program, which rises, but must not leave the button dead.
        if result is None:
            store.run(stop_check, notice)
    if result is not None:
        store.run(take_result, result)
    return result
