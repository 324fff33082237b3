"""What the bench shows, and the steps that change it: plain values, no widgets."""

from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from proofkit.check import CheckResult
from proofkit.figures.series import pull_order, regions_with
from proofkit.figures.words import PRIMARY
from proofkit.folder.edition import Edition, Region
from proofkit.folder.guarded import file_mark
from proofkit.folder.pulls import PULLS_FILE
from proofkit.folder.read import read_edition
from proofkit.folder.regions import REGIONS_FILE
from proofkit.report.sentences import looks_first

ALL_REGIONS = ""
"""Stands for all regions where one can be chosen."""

AS_WRITTEN = ""
"""Stands for the standard that edition.toml names."""

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class BenchState:
    """One edition on the bench."""

    edition: Edition | None = None
    """The edition that is open; None before any is."""
    pulls: tuple[str, ...] = ()
    """In order of printing."""
    standard: str = AS_WRITTEN
    """Pull chosen as standard for the next check."""
    result: CheckResult | None = None
    """What the last check of this edition found."""
    decided: pd.DataFrame | None = None
    """Table `decisions`; None before the ledger was asked."""
    measure: str = PRIMARY[0]
    region: str = ALL_REGIONS
    """Region shown in charts and tables."""
    pull: str = ""
    """Sheet under the eye."""
    regions: tuple[Region, ...] = ()
    """As drawn; regions.csv holds the same."""
    chosen: str = ""
    """Region that is worked on."""
    past: tuple[tuple[Region, ...], ...] = ()
    future: tuple[tuple[Region, ...], ...] = ()
    regions_mark: str = ""
    """Tells regions.csv as it was last read or written here from what others make of it."""
    pulls_mark: str = ""
    is_disputed: bool = False
    """True while regions.csv was changed by someone else and nobody has said which one counts."""
    target: Box | None = None
    """Place to be brought into view. [plate mm]"""
    notice: str = ""
    """One or more sentences for the person at the bench."""
    is_running: bool = False

    @property
    def folder(self) -> Path | None:
        """Folder of the edition."""
        return None if self.edition is None else self.edition.folder


def changed(before: BenchState, state: BenchState, *names: str) -> bool:
    """Return whether any of the named parts is another one: texts by value, tables and editions by identity."""
    pairs = ((getattr(before, name), getattr(state, name)) for name in names)
    return any(one is not other and not (isinstance(one, str) and one == other) for one, other in pairs)


def open_folder(state: BenchState, folder: Path) -> BenchState:
    """Return the bench with another edition, of which nothing has been checked yet.

    Raises
    ------
    FolderError
        If the folder is no edition that can be read.
    """
    edition = read_edition(folder)
    pulls = tuple(dict.fromkeys(pull.pull for pull in edition.pulls))
    first = edition.standard or next(iter(pulls), "")
    return BenchState(
        edition=edition,
        pulls=pulls,
        measure=state.measure,
        pull=first,
        regions=edition.regions,
        regions_mark=file_mark(folder / REGIONS_FILE),
        pulls_mark=file_mark(folder / PULLS_FILE),
        notice=" ".join(edition.remarks),
    )


def reread(state: BenchState) -> BenchState:
    """Return the bench with what the folder's files say now; the sheet under the eye and the last result stay.

    Raises
    ------
    FolderError
        If the files can no longer be read.
    """
    if state.edition is None:
        return state
    fresh = open_folder(state, state.edition.folder)
    pull = state.pull if state.pull in fresh.pulls else fresh.pull
    kept = replace(fresh, pull=pull, result=state.result, decided=state.decided, region=state.region)
    return replace(kept, standard=state.standard if state.standard in fresh.pulls else AS_WRITTEN)


def standard_pull(state: BenchState) -> str:
    """Return the pull that serves as standard as far as is known; empty when nothing says so."""
    if state.result is not None:
        return state.result.measured.standard
    if state.standard != AS_WRITTEN:
        return state.standard
    return "" if state.edition is None else state.edition.standard or ""


def start_work(state: BenchState) -> BenchState:
    """Return the bench while something long runs."""
    return replace(state, is_running=True, notice="")


def end_work(state: BenchState, notice: str) -> BenchState:
    """Return the bench after long work, with what there is to say about it."""
    return replace(state, is_running=False, notice=notice)


def say(state: BenchState, notice: str) -> BenchState:
    """Return the bench with a sentence for the person at it."""
    return replace(state, notice=notice)


def take_result(state: BenchState, result: CheckResult, decided: pd.DataFrame | None = None) -> BenchState:
    """Return the bench with what a check found: its first flagged sheet and, if possible, the measure chosen before."""
    measures = measures_of(result)
    flagged = looks_first(result.measured, result.judged)
    pulls = pull_order(result.measured)
    others = [pull for pull in pulls if pull != result.measured.standard]
    edition = result.measured.edition
    mark = file_mark(edition.folder / REGIONS_FILE)
    if (
        mark != state.regions_mark
    ):  # proposed by the check, or changed by hand before it: what was measured counts
        state = replace(state, regions=edition.regions, regions_mark=mark, past=(), future=(), chosen="")
        state = replace(state, is_disputed=False)
    return replace(
        state,
        edition=edition,
        pulls=pulls,
        result=result,
        decided=state.decided if decided is None else decided,
        measure=state.measure if state.measure in measures else next(iter(measures), PRIMARY[0]),
        region=ALL_REGIONS,
        pull=next(iter([*flagged, *others]), ""),
        target=None,
        notice=_told(result),
        is_running=False,
    )


def choose(
    state: BenchState, *, measure: str | None = None, region: str | None = None, pull: str | None = None
) -> BenchState:
    """Return the bench with another measure, region or sheet."""
    chosen = replace(
        state,
        measure=state.measure if measure is None else measure,
        region=state.region if region is None else region,
        pull=state.pull if pull is None else pull,
        target=state.target if pull is None or pull == state.pull else None,
    )
    shown = (ALL_REGIONS, *regions_of(chosen))
    return chosen if chosen.region in shown else replace(chosen, region=ALL_REGIONS)


def look_at(state: BenchState, pull: str, region: str) -> BenchState:
    """Return the bench with a sheet and the place of a region brought into view; the whole sheet for any other word."""
    outline = next((one.outline_mm for one in state.regions if one.name == region), None)
    bounds = None if outline is None else outline.bounds
    target = None if bounds is None else (bounds[0], bounds[1], bounds[2], bounds[3])
    return replace(choose(state, pull=pull), target=target)


def go_to(state: BenchState, box_mm: Box) -> BenchState:
    """Return the bench with a place brought into view."""
    return replace(state, target=box_mm)


def choose_standard(state: BenchState, standard: str) -> BenchState:
    """Return the bench with another standard for the next check."""
    return replace(state, standard=standard)


def take_decisions(state: BenchState, decided: pd.DataFrame, notice: str = "") -> BenchState:
    """Return the bench with the decisions as the ledger has them."""
    return replace(state, decided=decided, notice=notice or state.notice)


def measures_of(result: CheckResult) -> tuple[str, ...]:
    """Return the measures that can be shown: those judged, findings first, then the usual reading order."""
    limits, found = result.judged.limits["measure"], result.judged.findings["measure"]
    judged = dict.fromkeys(str(name) for name in [*found, *PRIMARY, *limits])
    return tuple(name for name in judged if regions_with(result.measured, name))


def regions_of(state: BenchState) -> tuple[str, ...]:
    """Return the regions that have the chosen measure."""
    return () if state.result is None else regions_with(state.result.measured, state.measure)


def _told(result: CheckResult) -> str:
    sheets = len(result.measured.tone_pictures)
    left_out = f" {len(result.failures)} could not be compared." if result.failures else ""
    folder, report = result.measured.edition.folder, result.report
    where = report.relative_to(folder) if report.is_relative_to(folder) else report
    return (
        f"{sheets} sheets compared, {result.new_sheets} of them measured just now.{left_out} Report: {where}"
    )
