"""All sheets of an edition: from the ledger what it knows, measured now what is new."""

from __future__ import annotations

from dataclasses import dataclass, replace

from proofkit.check.fresh import Hands, measure_new, sheet_key
from proofkit.check.limits_met import on_calibration, on_regions
from proofkit.check.setting_out import SetOut, choose_standard, missing_scans, set_out
from proofkit.columns import MEASUREMENTS, SHEETS, SPECKS, make_table
from proofkit.edition import MeasuredEdition
from proofkit.errors import ScanError
from proofkit.folder.edition import Edition, Pull
from proofkit.folder.problems import quoted
from proofkit.ledger.connection import Ledger
from proofkit.ledger.notes import known_hashes
from proofkit.ledger.pulls import note_pulls
from proofkit.ledger.repeatability import find_repeatability, on_older_repeatability
from proofkit.ledger.sheets import find_sheets
from proofkit.progress import Progress
from proofkit.scan.fetching import scan_place
from proofkit.sheet import SheetResult
from proofkit.threads import solved_in_one_thread
from proofkit.workers.cluster import Cluster

__all__ = ["MeasuredPile", "measure_pile"]


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredPile:
    """All sheets of an edition, from the ledger or measured now."""

    measured: MeasuredEdition
    results: dict[str, SheetResult]
    """Pull -> its sheet, in order of printing; those that lie on the standard."""
    new_sheets: int
    """How many were measured in this run."""
    keys: dict[str, str]
    """Pull -> digest of its sheet's key in the ledger."""


@solved_in_one_thread()
def measure_pile(
    edition: Edition,
    ledger: Ledger,
    workers: int | None,
    progress: Progress,
    cluster: Cluster | None = None,
) -> MeasuredPile:
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
    cluster : str or distributed.Client, optional
        Scheduler of the machines that measure, in place of threads here.

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
        fresh, setting = measure_new(setting, ledger, todo, Hands(workers, cluster), progress)
        results.update(fresh.results)
        failures.update(fresh.failures)
        new_sheets = fresh.new_sheets
    if standard_pull.pull in failures:
        raise ScanError(f"The standard, pull {quoted(standard_pull.pull)}: {failures[standard_pull.pull]}")
    in_order = {pull.pull: _relabelled(results[pull.pull], pull) for pull in pulls if pull.pull in results}
    noted = {
        pull.pull: (pull.scan, sheet_key(setting, pull, str(in_order[pull.pull].sheet["sha256"])))
        for pull in pulls
        if pull.pull in in_order
    }
    note_pulls(ledger, noted)
    failures.update({pull: result.not_laid for pull, result in in_order.items() if result.not_laid})
    remarks = (*setting.edition.remarks, *on_older_repeatability(ledger))
    setting = replace(setting, edition=replace(setting.edition, remarks=remarks))
    measured = replace(_tables(setting, in_order, failures), repeatability=find_repeatability(ledger))
    return MeasuredPile(
        measured,
        {pull: result for pull, result in in_order.items() if not result.not_laid},
        new_sheets,
        {pull: key.digest for pull, (_, key) in noted.items()},
    )


def _known(setting: SetOut, ledger: Ledger, pulls: list[Pull]) -> dict[str, SheetResult]:
    """Return the sheets that are in the ledger and whose files have not changed since, without reading the files.

    The standard's file was read for its hash, where the ledger does not vouch for it; a file only just copied is such a
    one. Its sheet is asked for by that hash: for a new one the standard would have to be made.
    """
    places = {pull.pull: scan_place(setting.edition, pull) for pull in pulls}
    hashes = known_hashes(ledger, places.values())
    hashes[places[setting.standard_pull.pull]] = setting.standard_sha256
    keys = {
        pull.pull: sheet_key(setting, pull, hashes[places[pull.pull]])
        for pull in pulls
        if places[pull.pull] in hashes
    }
    found = find_sheets(ledger, keys.values())
    return {pull: found[key] for pull, key in keys.items() if key in found}


def _relabelled(result: SheetResult, pull: Pull) -> SheetResult:
    """Return a result with the pull and scan of today's pulls.csv: files may have been renamed since."""
    names = {"pull": pull.pull, "scan": pull.scan}
    rows, specks = ([{**row, **names} for row in part] for part in (result.rows, result.specks))
    return replace(result, sheet={**result.sheet, **names}, rows=rows, specks=specks)


def _tables(setting: SetOut, results: dict[str, SheetResult], failures: dict[str, str]) -> MeasuredEdition:
    standard = setting.standard_pull.pull
    measurements = make_table([row for result in results.values() for row in result.rows], MEASUREMENTS)
    sheets = make_table([result.sheet for result in results.values()], SHEETS)
    met = (*_same_files(results), *on_calibration(sheets), *on_regions(measurements, standard))
    edition = replace(setting.edition, remarks=(*setting.edition.remarks, *met))
    return MeasuredEdition(
        edition=edition,
        regions=edition.regions,
        standard=standard,
        is_provisional=setting.is_provisional,
        measurements=measurements,
        sheets=sheets,
        histograms={
            (pull, region): counts
            for pull, result in results.items()
            for region, counts in result.histograms.items()
        },
        tone_pictures={pull: result.tone_picture for pull, result in results.items() if not result.not_laid},
        failures={pull.pull: failures[pull.pull] for pull in edition.pulls if pull.pull in failures},
        plate_width_mm=setting.plate_mm[0],
        plate_height_mm=setting.plate_mm[1],
        specks=make_table([speck for result in results.values() for speck in result.specks], SPECKS),
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
