"""Measure the sheets that are not in the ledger yet, several at once; each is kept as soon as it is measured."""

from __future__ import annotations

from collections.abc import Generator, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field, replace

from proofkit.check.setting_out import SetOut, check_made_from, standard_changed
from proofkit.errors import ProofkitError, ScanError
from proofkit.folder.edition import Edition, Pull
from proofkit.folder.naming import is_address
from proofkit.folder.problems import quoted
from proofkit.ledger.connection import Ledger, folder_of
from proofkit.ledger.keys import SheetKey, measure_version, setup_digest
from proofkit.ledger.notes import note_hash, scan_sha256
from proofkit.ledger.sheets import find_sheet, save_sheet
from proofkit.progress import Progress
from proofkit.scan.fetching import fetched, place_stamp, scan_place
from proofkit.scan.opening import read_header
from proofkit.sheet import SheetResult, Standard, make_standard, without_scan
from proofkit.sheet.keeping import PREPARED, keep_standard, kept_standard
from proofkit.threads import processors
from proofkit.workers.attempt import Outcome, attempt
from proofkit.workers.cluster import Cluster, client_of, on_cluster
from proofkit.workers.memory import free_memory, sheet_bytes, workers_for
from proofkit.workers.threads import in_threads

FETCHED_PX = 140_000_000
"""Pixels to reckon with for scans that lie elsewhere and were not fetched yet: A3 at 850 ppi. [px]"""


@dataclass(frozen=True, slots=True)
class Hands:
    """Who measures."""

    workers: int | None = None
    """Threads of this program; None for as many as processors and memory allow."""
    cluster: Cluster | None = None
    """A cluster in their place."""


@dataclass(slots=True)
class Fresh:
    """What was measured in this run."""

    results: dict[str, SheetResult] = field(default_factory=dict)
    failures: dict[str, str] = field(default_factory=dict)
    new_sheets: int = 0


def sheet_key(setting: SetOut, pull: Pull, sha256: str) -> SheetKey:
    """Return the key of a sheet in the ledger."""
    return SheetKey(
        sha256, setup_digest(setting.edition, pull.corners_px), setting.standard_key, measure_version()
    )


def measure_new(
    setting: SetOut, ledger: Ledger, todo: list[Pull], hands: Hands, progress: Progress
) -> tuple[Fresh, SetOut]:
    """Measure sheets and keep each in the ledger as soon as it is measured.

    The standard's own sheet comes first; then its scan, the largest part of it, is let go of.

    Returns
    -------
    Fresh
    SetOut
        The setting without the standard.

    Raises
    ------
    LedgerError, ClusterError
        If what is measured cannot be kept, or nobody is there to measure: one line.
    ScanError
        If the standard's scan was replaced meanwhile: one line.
    """
    standard = _ready(setting, ledger, is_measured=setting.standard_pull in todo)
    setting = replace(setting, standard=None)
    fresh = Fresh()
    progress("measuring", 0, len(todo))

    def take(outcome: Outcome) -> None:
        if outcome.result is None:
            fresh.failures[outcome.pull] = outcome.why
        else:
            # The ledger has its fine picture, and a pile of them is large.
            fresh.results[outcome.pull] = replace(outcome.result, fine=None)
            fresh.new_sheets += outcome.is_new
        progress("measuring", len(fresh.results) + len(fresh.failures), len(todo))

    others = [pull for pull in todo if pull.pull != standard.pull]
    if len(others) < len(todo):
        own = _one_here(setting, standard, ledger, setting.standard_pull)
        if own.result is not None and own.result.sheet["sha256"] != setting.standard_sha256:
            raise standard_changed(setting.standard_pull)
        take(own)
    standard = without_scan(standard)
    if others:
        with _outcomes(setting, standard, ledger, others, hands) as outcomes, closing(outcomes):
            for outcome in outcomes:
                take(outcome)
    return fresh, setting


def _ready(setting: SetOut, ledger: Ledger, *, is_measured: bool) -> Standard:
    """Return the standard; from its file where an earlier run has kept it and its scan is not needed.

    The file lies beside the ledger, in the edition where that is a database: a folder to which only results of
    another place are written stays as it is.
    """
    folder, key = (folder_of(ledger) or setting.edition.folder) / PREPARED, setting.standard_key
    standard = setting.standard
    if standard is None and not is_measured:
        standard = kept_standard(folder, key)
        if standard is not None:
            return replace(standard, pull=setting.standard_pull.pull)
    if standard is None:
        standard = make_standard(setting.edition, setting.standard_pull)
        check_made_from(standard, setting.standard_sha256, setting.standard_pull)
    keep_standard(folder, key, standard)
    return standard


@contextmanager
def _outcomes(
    setting: SetOut, standard: Standard, ledger: Ledger, pulls: list[Pull], hands: Hands
) -> Iterator[Generator[Outcome]]:
    """Give the outcomes of sheets as they get ready."""
    edition = setting.edition
    if hands.cluster is None:
        needed = sheet_bytes(_largest_px(edition, pulls), standard.lines.lines.size)
        workers = workers_for(needed, len(pulls), free_memory(), hands.workers or processors())
        yield in_threads(
            lambda pull: _one_here(setting, standard, ledger, pull), pulls, workers, edition.scan_path
        )
        return
    with client_of(hands.cluster) as client:
        yield _kept_from_afar(
            setting, ledger, pulls, on_cluster(client, edition, standard, pulls, measure_version())
        )


def _one_here(setting: SetOut, standard: Standard, ledger: Ledger, pull: Pull) -> Outcome:
    """Return what becomes of a sheet on this machine. A fault of the ledger is no fault of the sheet, and rises."""
    try:
        with fetched(setting.edition, pull):  # for its hash and for measuring: once
            return _hashed_here(setting, standard, ledger, pull)
    except ScanError as error:
        return Outcome(pull.pull, why=str(error))
    except OSError as error:
        why = f"Scan {quoted(pull.scan)} cannot be read ({error.strerror}). Check the disk, or copy it anew."
        return Outcome(pull.pull, why=why)


def _hashed_here(setting: SetOut, standard: Standard, ledger: Ledger, pull: Pull) -> Outcome:
    sha256 = scan_sha256(ledger, setting.edition, pull)
    key = sheet_key(setting, pull, sha256)
    known = find_sheet(ledger, key)
    if known is not None:
        return Outcome(pull.pull, known, is_new=False)
    outcome = attempt(setting.edition, pull, standard)
    if outcome.result is None:
        return outcome
    if outcome.result.sheet["sha256"] != sha256:
        why = f"Scan {quoted(pull.scan)} was changed while it was measured. Run again when it is complete."
        return Outcome(pull.pull, why=why)
    if sheet_key(setting, pull, sha256) != key:
        name = quoted(setting.edition.capture.flat_field)
        why = f"The flat field {name} was changed while {quoted(pull.scan)} was measured. Run again."
        return Outcome(pull.pull, why=why)
    return replace(outcome, is_new=save_sheet(ledger, key, outcome.result))


def _kept_from_afar(
    setting: SetOut, ledger: Ledger, pulls: list[Pull], outcomes: Iterator[Outcome]
) -> Generator[Outcome]:
    """Keep what comes from a cluster, and pass it on; only this program writes to the ledger."""
    by_name = {pull.pull: pull for pull in pulls}
    stamps = {pull.pull: place_stamp(scan_place(setting.edition, pull)) for pull in pulls}
    for outcome in outcomes:
        pull = by_name[outcome.pull]
        if outcome.result is None:
            yield outcome
            continue
        sha256 = str(outcome.result.sheet["sha256"])
        is_new = save_sheet(ledger, sheet_key(setting, pull, sha256), outcome.result)
        note_hash(ledger, scan_place(setting.edition, pull), stamps[pull.pull], sha256)
        yield replace(outcome, is_new=is_new)


def _largest_px(edition: Edition, pulls: list[Pull]) -> int:
    """Return the pixels of the largest scan, as their headers say."""
    largest = FETCHED_PX if any(is_address(pull.scan) for pull in pulls) else 0
    for pull in pulls:
        try:
            header = read_header(edition.scan_path(pull))
        except (ProofkitError, OSError):
            continue  # measuring it will say what is wrong
        largest = max(largest, header.width * header.height)
    return largest
