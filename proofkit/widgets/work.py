"""Long work off the kernel's main thread: progress as it comes, a stop, and an end that leaves the bench usable."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from threading import Event, Thread

from proofkit.check import CheckResult, check
from proofkit.errors import ProofkitError
from proofkit.ledger.connection import LEDGER_FILE
from proofkit.ledger.deciding import read_decisions
from proofkit.widgets.state import AS_WRITTEN, end_work, start_work, take_result
from proofkit.widgets.store import BenchStore

NOTHING_OPEN = "No edition is open. Give the folder of an edition."
BROKE_OFF = "The check broke off; sheets that were measured are kept. Run it again."
STOPPED = "Stopped. Sheets that were measured are kept; check again to go on."

Tell = Callable[[str, int, int], None]


class StoppedError(ProofkitError):
    """A person stopped the work."""


@dataclass(frozen=True, slots=True)
class Places:
    """Where a check writes; None means inside the edition."""

    out: Path | None = None
    ledger_url: str | None = None

    def beside_ledger(self, folder: Path) -> Path:
        """Return the folder of the ledger file, that of the edition when the ledger is elsewhere in a database."""
        if self.ledger_url is None:
            return folder
        if "://" in self.ledger_url:
            return self.out or folder
        return Path(self.ledger_url).absolute().parent

    def has_ledger(self, folder: Path) -> bool:
        """Return whether there is a ledger to ask; a database is always asked."""
        where = self.ledger_url
        if where is not None and "://" in where:
            return True
        return (folder / LEDGER_FILE if where is None else Path(where)).is_file()


class Checking:
    """Runs the check of the open edition, one at a time."""

    def __init__(self, store: BenchStore, places: Places, tell: Tell) -> None:
        self._store = store
        self._places = places
        self._tell = tell
        self._stop = Event()

    def start(self) -> None:
        """Check in the background."""
        if not self._store.state.is_running:
            Thread(target=self.run, name="check", daemon=True).start()

    def stop(self) -> None:
        """Ask the check to end: sheets in hand are finished and kept."""
        self._stop.set()

    def run(self) -> CheckResult | None:
        """Check and wait for the end; None when the notice says why nothing could be done."""
        store, state = self._store, self._store.state
        if state.edition is None:
            store.run(end_work, NOTHING_OPEN)
            return None
        self._stop.clear()
        store.run(start_work)
        notice, result = BROKE_OFF, None
        folder = state.edition.folder
        try:
            result = check(
                folder,
                out=self._places.out,
                ledger_url=self._places.ledger_url,
                standard=None if state.standard == AS_WRITTEN else state.standard,
                progress=self._heard,
            )
            decided = read_decisions(folder, self._places.ledger_url)
        except ProofkitError as error:
            notice = str(error)
        finally:
            # Also reached by a fault of the program, which rises, but must not leave the bench dead.
            self._tell("", 0, 0)
            if result is None:
                store.run(end_work, notice)
        if result is not None:
            store.run(take_result, result, decided)
        return result

    def _heard(self, what: str, done: int, total: int) -> None:
        if self._stop.is_set():
            raise StoppedError(STOPPED)
        self._tell(what, done, total)
