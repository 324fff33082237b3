"""Measure the sheets of an edition that are not in the ledger yet, several at once."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass, replace

import cv2

from proofkit.check.setting_out import SetOut, choose_standard, missing_scans, set_out
from proofkit.check.workers import free_memory, processors, workers_for
from proofkit.columns import MEASUREMENTS, SHEETS, make_table
from proofkit.edition import MeasuredEdition
from proofkit.errors import LedgerError, ProofkitError, ScanError
from proofkit.folder.edition import Edition, Pull
from proofkit.folder.problems import quoted
from proofkit.ledger.connection import Ledger
from proofkit.ledger.keys import SheetKey, measure_version, setup_digest
from proofkit.ledger.notes import file_sha256, known_hashes
from proofkit.ledger.pulls import note_pulls
from proofkit.ledger.repeatability import find_repeatability
from proofkit.ledger.sheets import find_sheet, find_sheets, save_sheet
from proofkit.scan.opening import read_header
from proofkit.sheet import SheetResult, Standard, make_standard, measure_sheet

Progress = Callable[[str, int, int], None]
"""``(what is done, how many are done, of how many)``."""


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredPile:
    """All sheets of an edition, from the ledger or measured now."""

    measured: MeasuredEdition
    results: dict[str, SheetResult]
    """Pull -> its sheet, in order of printing."""
    new_sheets: int
    """How many were measured in this run."""


def measure_pile(edition: Edition, ledger: Ledger, workers: int | None, progress: Progress) -> MeasuredPile:
    """Measure what is new in an edition and return all of it.

    Parameters
    ----------
    edition : Edition
    ledger : Ledger
        Receives each sheet as soon as it is measured.
    workers : int or None
        Sheets at once; None for as many as processors and memory allow.
    progress : callable
        Is told about every sheet.

    Raises
    ------
    ProofkitError
        If nothing can be measured, or not the standard: one line.
    """
    failures = missing_scans(edition)
    if len(failures) == len(edition.pulls):
        raise ScanError(f"None of the {len(failures)} scans is there. {next(iter(failures.values()))}")
    progress("choosing the standard", 0, 1)
    standard_pull, is_provisional = choose_standard(edition, ledger, failures)
    if standard_pull.pull in failures:
        raise ScanError(f"The standard, pull {quoted(standard_pull.pull)}: {failures[standard_pull.pull]}")
    setting = set_out(edition, ledger, standard_pull, is_provisional=is_provisional)
    progress("choosing the standard", 1, 1)
    pulls = [pull for pull in edition.pulls if pull.pull not in failures]
    results = _known(setting, ledger, pulls)
    todo = [pull for pull in pulls if pull.pull not in results]
    new_sheets = 0
    if todo:
        standard = setting.standard or make_standard(setting.edition, standard_pull)
        fresh = _measure_all(
            setting, standard, ledger, todo, _workers(setting.edition, todo, workers), progress
        )
        results.update(fresh.results)
        failures.update(fresh.failures)
        new_sheets = fresh.new_sheets
    if standard_pull.pull in failures:
        raise ScanError(f"The standard, pull {quoted(standard_pull.pull)}: {failures[standard_pull.pull]}")
    in_order = {pull.pull: _relabelled(results[pull.pull], pull) for pull in pulls if pull.pull in results}
    measured_pulls = [pull for pull in pulls if pull.pull in in_order]
    note_pulls(
        ledger,
        {
            pull.pull: (pull.scan, _key(setting, pull, str(in_order[pull.pull].sheet["sha256"])))
            for pull in measured_pulls
        },
    )
    measured = replace(_tables(setting, in_order, failures), repeatability=find_repeatability(ledger))
    return MeasuredPile(measured, in_order, new_sheets)


@dataclass(frozen=True, slots=True, eq=False)
class _Fresh:
    results: dict[str, SheetResult]
    failures: dict[str, str]
    new_sheets: int


def _key(setting: SetOut, pull: Pull, sha256: str) -> SheetKey:
    return SheetKey(
        sha256, setup_digest(setting.edition, pull.corners_px), setting.standard_key, measure_version()
    )


def _known(setting: SetOut, ledger: Ledger, pulls: list[Pull]) -> dict[str, SheetResult]:
    """Return the sheets that are in the ledger and whose files have not changed since, without reading the files."""
    paths = {pull.pull: setting.edition.scan_path(pull) for pull in pulls}
    hashes = known_hashes(ledger, paths.values())
    keys = {
        pull.pull: _key(setting, pull, hashes[paths[pull.pull]])
        for pull in pulls
        if paths[pull.pull] in hashes
    }
    found = find_sheets(ledger, keys.values())
    return {pull: found[key] for pull, key in keys.items() if key in found}


def _workers(edition: Edition, todo: list[Pull], asked: int | None) -> int:
    """Return how many sheets to measure at once, from the sizes that their headers name."""
    largest = 0
    for pull in todo:
        try:
            header = read_header(edition.scan_path(pull))
        except (ProofkitError, OSError):
            continue  # measuring it will say what is wrong
        largest = max(largest, header.width * header.height)
    return workers_for(largest, len(todo), free_memory(), asked or processors())


def _measure_all(
    setting: SetOut, standard: Standard, ledger: Ledger, todo: list[Pull], workers: int, progress: Progress
) -> _Fresh:
    results: dict[str, SheetResult] = {}
    failures: dict[str, str] = {}
    new_sheets = 0
    progress("measuring", 0, len(todo))
    with ThreadPoolExecutor(workers, thread_name_prefix="sheet") as pool:
        waiting = {pool.submit(_measure_one, setting, standard, ledger, pull): pull for pull in todo}
        try:
            for done, future in enumerate(as_completed(waiting), start=1):
                pull = waiting[future].pull
                answer, is_new = future.result()
                new_sheets += is_new
                if isinstance(answer, str):
                    failures[pull] = answer
                else:
                    results[pull] = answer
                progress("measuring", done, len(todo))
        except BaseException:
            # Sheets that are being measured are finished and kept; those that wait are left for the next run.
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    return _Fresh(results, failures, new_sheets)


def _measure_one(
    setting: SetOut, standard: Standard, ledger: Ledger, pull: Pull
) -> tuple[SheetResult | str, bool]:
    """Return a sheet, or the line that says why it could not be measured; and whether it is new in the ledger.

    A fault of the ledger is no fault of the sheet, and rises.
    """
    scan = f"Scan {quoted(pull.scan)}"
    try:
        return _found_or_measured(setting, standard, ledger, pull)
    except LedgerError:
        raise
    except ProofkitError as error:
        why = str(error)
    except OSError as error:
        why = f"{scan} cannot be read ({error.strerror}). Check the disk, or copy it anew."
    except MemoryError:
        why = f"{scan} needs more memory than is free. Run again with --workers 1."
    except (ArithmeticError, LookupError, ValueError, cv2.error) as error:
        # What no check foresaw in one scan must not cost the others; the kind of error helps to mend the program.
        what = f"{type(error).__name__}: {' '.join(str(error).split())}"
        why = f"{scan} could not be measured ({what}). Look at it, and report this."
    return why, False


def _found_or_measured(
    setting: SetOut, standard: Standard, ledger: Ledger, pull: Pull
) -> tuple[SheetResult, bool]:
    sha256 = file_sha256(ledger, setting.edition.scan_path(pull))
    key = _key(setting, pull, sha256)
    known = find_sheet(ledger, key)
    if known is not None:
        return known, False
    result = measure_sheet(setting.edition, pull, standard)
    if result.sheet["sha256"] != sha256:
        raise ScanError(
            f"Scan {quoted(pull.scan)} was changed while it was measured. Run again when it is complete."
        )
    return result, save_sheet(ledger, key, result)


def _relabelled(result: SheetResult, pull: Pull) -> SheetResult:
    """Return a result with the pull and scan of today's pulls.csv: files may have been renamed since."""
    names = {"pull": pull.pull, "scan": pull.scan}
    return replace(result, sheet={**result.sheet, **names}, rows=[{**row, **names} for row in result.rows])


def _tables(setting: SetOut, results: dict[str, SheetResult], failures: dict[str, str]) -> MeasuredEdition:
    edition = replace(setting.edition, remarks=(*setting.edition.remarks, *_same_files(results)))
    return MeasuredEdition(
        edition=edition,
        regions=edition.regions,
        standard=setting.standard_pull.pull,
        is_provisional=setting.is_provisional,
        measurements=make_table([row for result in results.values() for row in result.rows], MEASUREMENTS),
        sheets=make_table([result.sheet for result in results.values()], SHEETS),
        histograms={
            (pull, region): counts
            for pull, result in results.items()
            for region, counts in result.histograms.items()
        },
        tone_pictures={pull: result.tone_picture for pull, result in results.items()},
        failures={pull.pull: failures[pull.pull] for pull in edition.pulls if pull.pull in failures},
        plate_width_mm=setting.plate_mm[0],
        plate_height_mm=setting.plate_mm[1],
    )


def _same_files(results: dict[str, SheetResult]) -> list[str]:
    """Return a remark for each scan that was given for two pulls: a slip of copying, not two sheets alike."""
    first: dict[object, str] = {}
    remarks = []
    for pull, result in results.items():
        other = first.setdefault(result.sheet["sha256"], pull)
        if other != pull:
            remarks.append(
                f"The scans of pulls {quoted(other)} and {quoted(pull)} are the same file under two names."
            )
    return remarks
